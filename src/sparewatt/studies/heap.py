"""What have I got, and is it any good: machines judged from their plates, and every way to join the heap tried."""

from __future__ import annotations

import dataclasses
import math
from typing import TypeAlias

from sparewatt.parts import Battery, Converter, Machine, Measured, Rig
from sparewatt.physics import appliances
from sparewatt.physics import machine as machine_physics
from sparewatt.rig.fill import Filled, fill, fill_machine
from sparewatt.rig.notes import Notes
from sparewatt.rig.outcome import Band, Caveat
from sparewatt.studies.answers import HeapAnswer, JudgedMachine
from sparewatt.studies.guard.scene import as_written
from sparewatt.studies.heap_join import best_joins, cheapest_purchase, wanted_volts

__all__ = ["POWERS", "heap", "judge_plate"]

Scrap: TypeAlias = Machine | Converter | Battery
POWERS = (30.0, 75.0, 150.0)  # W delivered by a rider who idles, rides, works
HALF_BAND = 1.645  # standard deviations in half of a 90 % band
BUY_SHARE, FREE_SHARE = 0.50, 0.90  # loss at 75 W over 75 W; common practice, no source
NEAR = 0.18  # share by which the best volts may miss the wanted ones without a board
FAST = (
    4000 * 2 * math.pi / 60
)  # rad/s that a pedalled drive reaches with two steps; common practice, no source
NAN = math.nan


def heap(rig: Rig | Filled, load: str | None = None, bins: tuple[Scrap, ...] = ()) -> HeapAnswer:
    """Machines of the rig, its neighbours and the bins judged; combinations with boards, gears and pulleys for one load.

    bins: loose parts as records. The drive of the rig is kept; its last pulley is tried in several sizes.
    """
    filled = rig if isinstance(rig, Filled) else fill(rig)
    written = as_written(rig.rig) if isinstance(rig, Filled) else rig
    machines = _machines(written, bins)
    volts = wanted_volts(filled.rig, load)
    judged = sorted((judge_plate(m, volts=volts) for m in machines), key=_order)
    joins, solved = best_joins(written, load, machines, bins)
    return HeapAnswer(
        machines=tuple(judged),
        combinations=joins,
        purchase=cheapest_purchase(solved),
        caveats=_caveats(machines),
        sources=("nameplate_guess", "loss_map", "dc_machine"),
    )


def _machines(rig: Rig, bins: tuple[Scrap, ...]) -> list[Machine]:
    """Every machine on the heap, each with a name of its own."""
    found = [rig.machine] if rig.machine is not None else []
    found += [x.machine for x in rig.neighbour if x.machine is not None]
    found += [x for x in bins if isinstance(x, Machine)]
    names: set[str] = set()
    out = []
    for m in found:
        base = m.name or "machine"
        name, n = base, 2
        while name in names:
            name, n = f"{base} {n}", n + 1
        names.add(name)
        out.append(dataclasses.replace(m, name=name))
    return out


def _order(m: JudgedMachine) -> tuple[int, float]:
    """Refused ones last, then by the watts lost at 75 W."""
    loss = next((row[3] for row in m.best if row[0] == POWERS[1]), math.inf)
    return ({"buy": 0, "only if free": 1, "leave": 2}[m.call] + (3 if m.refused else 0), loss)


def judge_plate(machine: Machine, *, volts: float = 13.0) -> JudgedMachine:
    """One machine from its plate or its own constants: what it is good for, and whether to keep it.

    volts: what the load wants; decides which board it then needs.
    """
    known = fill_machine(machine, "machine", Notes())
    k, r, brush, t0 = (
        _band(x) for x in (known.emf_constant, known.resistance, known.brush_drop, known.friction)
    )
    refused = appliances.MACHINE_REFUSALS.get(machine.kind, "")
    odd = _odd(machine, refused=bool(refused))
    if refused:
        nan = Band(NAN, NAN, NAN)
        return JudgedMachine(
            name=machine.name or machine.kind,
            kind=machine.kind,
            refused=refused,
            k_emf=nan,
            r_wind=nan,
            brush_drop=nan,
            friction=nan,
            stiffness=NAN,
            best=(),
            board="",
            call="leave",
            why=refused,
            odd=odd,
        )
    best = tuple(_best(known, watts) for watts in POWERS)
    call, why = _call(
        known, best, guessed=known.emf_constant is not None and known.emf_constant.how == "typical"
    )
    board = "" if machine.kind == "alternator" else _board(best, volts)
    return JudgedMachine(
        name=machine.name or "machine",
        kind=machine.kind,
        refused="",
        k_emf=k,
        r_wind=r,
        brush_drop=brush,
        friction=t0,
        stiffness=float(machine_physics.figure_of_merit(k_emf=k.mid, r_wind=r.mid)),
        best=best,
        board=board,
        call=call,
        why=why,
        odd=odd,
    )


def _band(known: Measured | None) -> Band:
    """90 % band of a constant, log-normal as it is drawn."""
    assert known is not None
    if known.value <= 0 or known.sd <= 0:
        return Band(known.value, known.value, known.value, known.how)
    spread = math.sqrt(math.log1p((known.sd / known.value) ** 2))
    wide = math.exp(HALF_BAND * spread)
    return Band(known.value, known.value / wide, known.value * wide, known.how)


def _best(m: Machine, watts: float) -> tuple[float, float, float, float]:
    """(W delivered, best speed, volts at its terminals there, watts lost) with every toll counted, bridge and field too."""
    assert m.emf_constant and m.resistance and m.friction and m.friction_slope and m.brush_drop
    k, r = m.emf_constant.value, m.resistance.value
    brush = m.brush_drop.value
    if m.kind == "pm_three_phase":
        source = machine_physics.bridge_source(
            k_line=k,
            r_line=r,
            inductance=m.inductance.value if m.inductance else 1e-3,
            pole_pairs=float(m.pole_pairs or 4),
        )
        k, r, brush = float(source.k_emf), float(source.r_wind), 1.4
    t, b = m.friction.value, m.friction_slope.value
    inner, speed, loss = watts, 1.0, 0.0
    # What crosses the air gap is what is delivered and lost in copper and brushes: settles in a few turns.
    for _ in range(30):
        speed = float(
            machine_physics.best_speed_with_drag(
                inner, k_emf=k, r_wind=r, v_brush=brush, t_coulomb=t, b_viscous=b
            )
        )
        loss = float(
            machine_physics.loss_at_power(
                speed, p_emf=inner, k_emf=k, r_wind=r, v_brush=brush, t_coulomb=t, b_viscous=b
            )
        )
        inner = watts + loss - (t + b * speed) * speed
    volts = watts * k * speed / inner
    field = (
        m.field_voltage.value * m.field_current.value
        if m.kind == "alternator" and m.field_voltage and m.field_current
        else 0.0
    )
    return watts, speed, volts, loss + field


def _board(best: tuple[tuple[float, float, float, float], ...], volts: float) -> str:
    """Which board lets it work at its best volts for a load that wants `volts`."""
    made = [row[2] for row in best[1:]]
    if all(v > (1 + NEAR) * volts for v in made):
        return "a step-down board"
    if all(v < (1 - NEAR) * volts for v in made):
        return "a step-up board"
    if all(abs(v / volts - 1) <= NEAR for v in made):
        return "no board"
    return "a step-up-and-down board"


def _call(
    m: Machine, best: tuple[tuple[float, float, float, float], ...], *, guessed: bool
) -> tuple[str, str]:
    """Buy, only if free, or leave, and the reason with its numbers."""
    watts, speed, volts, lost = best[1]
    rpm = speed * 60 / (2 * math.pi)
    at = (
        f"at {watts:.0f} W out it is at its best near {rpm:.0f} turns a minute and {volts:.0f} V, and "
        f"keeps {lost:.0f} W"
    )
    if m.kind == "alternator":
        field = m.field_voltage.value * m.field_current.value if m.field_voltage and m.field_current else 36.0
        return "leave", (
            f"its field takes {field:.0f} W before the first useful watt, and it wants more than 2000 "
            "turns a minute: legs that give 75 W feed little else"
        )
    assert m.current_limit is not None
    amps = watts / volts
    if guessed:
        return (
            "only if free",
            "nothing on it says what it is: spin it with a drill and read the volts before you pay",
        )
    if amps > m.current_limit.value:
        return (
            "leave",
            f"{at}, but that takes {amps:.1f} A and it may carry {m.current_limit.value:.1f} A for hours",
        )
    share = lost / watts
    if share > FREE_SHARE:
        return "leave", f"{at}: about as much again as it gives"
    if share > BUY_SHARE:
        return "only if free", f"{at}: usable, and hard on the legs"
    if speed > FAST:
        return "only if free", f"{at}, which takes more speed than a pedalled drive has in two steps"
    return "buy", at


def _plate(known: Measured | None) -> float | None:
    return None if known is None else known.value


def _odd(machine: Machine, *, refused: bool) -> tuple[str, ...]:
    """What on the plate does not agree with itself, and what was put in for missing lines."""
    plate = machine_physics.from_nameplate(
        voltage=_plate(machine.plate_voltage),
        current=_plate(machine.plate_current),
        speed=_plate(machine.plate_speed),
        power=_plate(machine.plate_power),
    )
    measured = machine.emf_constant is not None and machine.resistance is not None
    odd = list(plate.problems)
    if measured and plate.from_plate and machine.emf_constant is not None:
        off = machine.emf_constant.value / plate.k_emf
        if not 0.6 < off < 1.67:
            odd.append(
                f"its own volts per turn are {off:.2g} times what the plate says: a wrong plate, or one of "
                "the two in other units"
            )
    return tuple(odd if measured or refused else [*odd, *plate.assumed])


def _caveats(machines: list[Machine]) -> tuple[Caveat, ...]:
    found = [
        Caveat(
            "heap",
            "from plates alone expect a third more or less on cadence and amps; a drill and a meter bring "
            "that to a tenth",
        )
    ]
    if not machines:
        found.append(Caveat("heap", "there is no machine on this heap"))
    if any(m.kind == "pm_three_phase" for m in machines):
        found.append(Caveat("heap", "three wires need a three-phase bridge"))
    if any(m.plate_power is not None and m.plate_current is None for m in machines):
        found.append(
            Caveat("heap", "watts or horsepower on a plate are often a peak figure; look for the amps")
        )
    return tuple(found)
