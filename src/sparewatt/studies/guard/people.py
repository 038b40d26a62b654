"""People: the air and heat of a shut room, the rider, those who depend on a load."""

from __future__ import annotations

import math

from sparewatt.parts import Load
from sparewatt.physics import body, gas
from sparewatt.rig.endurance import CAREFUL_AGE
from sparewatt.rig.refusals import LIFE_DO, lifeline
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.scene import Check, Scene
from sparewatt.studies.guard.words import finding, number, spell, value

__all__ = ["CHECKS", "air_clock", "co2_flow"]

CO2_START = 6.0e-4  # share in a room that was aired; common practice, no source
MARKS = (gas.CO2_8_HOURS, gas.CO2_PLAN, gas.CO2_LEAVE, gas.CO2_SHORT)
FEW_PEOPLE_ROOM = (
    60.0  # m^3 a rider below which a room whose vents the file leaves open is looked at; common practice
)
WALLS = 3.0  # W/(m^2 K) through bare walls; common practice, no source


def co2_flow(scene: Scene, riding: bool) -> float:
    """Carbon dioxide of everybody in the room (m^3/s), riding at the asked effort or all at rest."""
    resting = scene.place.people_resting or 0
    if not riding:
        return (resting + scene.rigs) * gas.CO2_REST
    each = float(gas.room_flow(gas.co2_breath(_turned_over(scene)), t_air=scene.air))
    return resting * gas.CO2_REST + scene.rigs * each


def _turned_over(scene: Scene) -> float:
    """Watts one rider's body turns over at the asked effort."""
    efficiency = value(scene.solved.bound.rider.efficiency, 0.23)
    return float(body.metabolic_power(scene.ask.effort, efficiency=efficiency))


def air_clock(scene: Scene, riding: bool) -> list[tuple[float, float]]:
    """(share of carbon dioxide, seconds until it is reached) for each mark."""
    flow, fresh, room = co2_flow(scene, riding), value(scene.place.fresh_air, 0.0), value(scene.place.volume)
    return [
        (
            mark,
            float(
                gas.gas_time_to(
                    mark,
                    share_start=CO2_START,
                    share_out=gas.CO2_OUTDOOR,
                    g_gas=flow,
                    q_air=fresh,
                    volume_room=room,
                )
            ),
        )
        for mark in MARKS
    ]


def _air(scene: Scene) -> list[Finding] | None:
    """The air clock of a shut room, with and without the riders."""
    place = scene.place
    if place.volume is None or place.closed is False:
        return None if place.closed is None else []
    if place.closed is None and place.volume.value >= FEW_PEOPLE_ROOM * scene.rigs:
        return []
    with_legs, at_rest = air_clock(scene, True), air_clock(scene, False)
    if not any(math.isfinite(t) for _mark, t in with_legs):
        return []
    planned = with_legs[1][1]
    check = "stop" if place.closed and planned <= scene.ask.duration else "look again"
    shut = (
        "With doors and vents shut" if place.closed else "If doors and vents are shut (the file does not say)"
    )
    people = "one rider" if scene.rigs == 1 else f"{scene.rigs} riders"
    brings = "brings" if scene.rigs == 1 else "bring"
    clock = ", ".join(f"{number(mark, '%')} after {spell(t)}" for mark, t in with_legs if math.isfinite(t))
    calm = (
        f"with everybody at rest 1 % comes after {spell(at_rest[1][1])}"
        if math.isfinite(at_rest[1][1])
        else "with everybody at rest it never gets to 1 %"
    )
    need = float(gas.air_for_co2(co2_flow(scene, True), share_limit=gas.CO2_PLAN))
    return [
        finding(
            "co2",
            "The air runs out",
            check,
            f"{shut}, {people} at {number(scene.ask.effort, 'W')} {brings} the room to {clock} of carbon "
            f"dioxide; {calm}. "
            "You do not feel it in time: first a headache, then bad judgement.",
            f"Ride with at least {number(need, 'm^3/s')} of fresh air, or before the door is shut. Above "
            "1.5 % stop all effort; at 2 % open up or leave. "
            "Plants, lime and wet cloths do not help.",
            at=("worth", "match", "legs"),
            severity=4,
            source="room_mass_balance",
            found=planned if math.isfinite(planned) else with_legs[0][1],
            threshold=scene.ask.duration,
            unit="s",
        )
    ]


def _oxygen(scene: Scene) -> list[Finding] | None:
    """Oxygen of a shut room."""
    place = scene.place
    if place.volume is None or not place.closed:
        return None if place.closed is None else []
    taken = co2_flow(scene, True) / 0.9
    time = float(
        gas.gas_time_to(
            -gas.OXYGEN_FLOOR,
            share_start=-gas.OXYGEN_OUTDOOR,
            share_out=-gas.OXYGEN_OUTDOOR,
            g_gas=taken,
            q_air=value(place.fresh_air, 0.0),
            volume_room=place.volume.value,
        )
    )
    if not math.isfinite(time):
        return []
    return [
        finding(
            "oxygen",
            "Oxygen, and no flame in a shut room",
            "look again",
            f"Oxygen falls below 19.5 % after {spell(time)}; carbon dioxide hurts before that. Any stove, "
            "candle or engine eats oxygen and makes carbon monoxide.",
            "No flame with the vents shut. Hang up a carbon monoxide alarm.",
            at=("worth", "legs"),
            severity=4,
            source="room_mass_balance",
            found=time,
            threshold=scene.ask.duration,
            unit="s",
        )
    ]


def _heat(scene: Scene) -> list[Finding] | None:
    """Heat of riders in a shut or warm room."""
    place = scene.place
    known = scene.written.place is not None and scene.written.place.temperature is not None
    if not known and not (place.closed and place.volume):
        return None
    limit, hot = gas.HEAT_STOP
    air = scene.air
    says, reached = f"The room is {number(air, 'K')} to begin with", air
    if place.closed and place.volume is not None:
        watts = scene.rigs * _turned_over(scene) + body.RESTING_WATTS * (place.people_resting or 0)
        reached = float(
            gas.room_temperature_settled(
                watts,
                t_out=air,
                q_air=value(place.fresh_air, 0.0),
                ua_walls=WALLS * 6.0 * place.volume.value ** (2 / 3),
            )
        )
        says = (
            f"The riders give off {number(watts, 'W')} and half a litre of water an hour each; even with "
            "bare walls this shut room "
            f"goes from {number(air, 'K')} towards {number(reached, 'K')}"
        )
    if reached < limit:
        return []
    return [
        finding(
            "heat",
            "Too warm to ride hard",
            "stop" if air >= hot + 5 else "look again",
            f"{says}; with damp air moderate effort stops at {number(limit, 'K')} to {number(hot, 'K')}.",
            "Drink half a litre an hour, use a fan, ride in turns, and stop at dizziness, chills or a "
            "headache.",
            at=("worth", "legs"),
            severity=4,
            source="iso7243",
            found=reached,
            threshold=limit,
            unit="K",
        )
    ]


def _medical(scene: Scene) -> list[Finding] | None:
    """Loads somebody depends on."""
    loads = [x for x in scene.rig.load if x.life_support]
    if not loads:
        return None
    return [_life(scene, load) for load in loads]


def _life(scene: Scene, load: Load) -> Finding:
    line = lifeline(scene.rig, load)
    assert line is not None
    held, wanted, enough = line.held, line.wanted, line.enough
    says = (
        f"Somebody depends on the {load.name}. Two nights of it take {number(wanted, 'J')}; the battery "
        f"gives about {number(held, 'J')}."
        if held > 0
        else f"Somebody depends on the {load.name}, and it has no battery behind it."
    )
    return finding(
        f"life: {load.name}",
        "A load somebody depends on",
        "look again" if enough else "stop",
        says,
        f"Legs are the back-up to the back-up: {LIFE_DO}.",
        at=("worth", "loads", "load"),
        severity=4,
        found=held,
        threshold=wanted,
        unit="J",
    )


def _screen(scene: Scene) -> list[Finding] | None:
    """Who should not push hard without asking first."""
    rider = scene.solved.bound.rider
    written = next((r for r in scene.written.rider if r.name == rider.name), None)
    unwell = rider.fitness == "unwell"
    age = value(written.age if written is not None else None)
    hard = scene.ask.effort > value(rider.critical_power)
    if not unwell and not (age >= CAREFUL_AGE) and not hard:
        return []
    reasons = [
        text
        for text, true in (
            (f"{rider.name} is down as unwell", unwell),
            (f"{rider.name} is {age:.0f}", age >= CAREFUL_AGE),
            (f"{number(scene.ask.effort, 'W')} is above what {rider.name} holds for half an hour", hard),
        )
        if true
    ]
    return [
        finding(
            "screening",
            "Ask before this rider pushes hard",
            "look again",
            f"{' and '.join(reasons)}. No number here says who is fit to ride.",
            "Chest pain, a faint, heart disease, medicines, pregnancy, a recent operation or fever: ask a "
            "doctor first, and ride so that you can speak a "
            "sentence. Stop at chest, jaw or arm discomfort, a faint feeling, a racing heart or cold "
            "sweat. A second person stays near.",
            at=("worth", "match", "legs"),
            severity=4,
            found=scene.ask.effort,
            threshold=value(rider.critical_power),
            unit="W",
        )
    ]


CHECKS: tuple[Check, ...] = (
    ("Carbon dioxide in the room", _air),
    ("Oxygen in the room", _oxygen),
    ("Heat in the room", _heat),
    ("Loads somebody depends on", _medical),
    ("Who rides", _screen),
)
