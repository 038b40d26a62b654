"""Parts that the nearest yes of a scene may add: a capacitor, a clamp, a flywheel on a named shaft; smallest first."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator

import numpy as np

from sparewatt.parts import Bus, Clamp, Flywheel, Measured
from sparewatt.physics import flywheel, protection
from sparewatt.rig.endurance import power_for
from sparewatt.rig.fill import Filled, exact
from sparewatt.rig.motion import Played, channel
from sparewatt.rig.motion_layout import Chan, Move
from sparewatt.rig.operating import overspeed
from sparewatt.studies.scenes.seconds import Scored
from sparewatt.studies.scenes.tries_seconds import SceneTry
from sparewatt.studies.tries import coins_for, round2

__all__ = ["capacitors", "clamps", "flywheels"]

FARADS = (2.2e-3, 4.7e-3, 10e-3, 22e-3, 47e-3, 0.1, 0.22, 0.47, 1.0, 2.2)  # usual sizes; the last are banks
DISC_MASSES = (1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0)  # kg that are found
DISC_ACROSS = (0.45, 0.4, 0.35, 0.3, 0.25, 0.2, 0.15)  # m that are found, the widest first
THINNEST, THICKEST, STEEL = 2e-3, 0.06, 7850.0  # m, m and kg/m^3 of a disc of steel
MOST_JOULES = (
    200.0  # in a capacitor that is offered: ten times what counts as a hazard (common practice, no source)
)
RIM_MARGIN = 1.25  # of the speed in a sprint that a rim must stand (common practice, no source)
CLAMP_BELOW = 0.92  # of the weakest rating, where a clamp is set at most


def capacitors(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """A bigger capacitor across the bus, for the volts it may see."""
    rig = filled.rig
    now = float(scored.moving.mv[0, 0, Move.CAPACITANCE])
    rated = round2(float(protection.over_volts_needed(_open_volts(scored))))
    bus = rig.bus or Bus()
    for farads in FARADS:
        if farads < 1.5 * now or 0.5 * farads * _open_volts(scored) ** 2 > MOST_JOULES:
            continue
        edits = [("bus.capacitance", render_farads(farads))]
        volts = bus.capacitor_voltage
        if volts is None or volts.value < rated:
            volts = Measured(rated, 0.0, "nameplate")
            edits.append(("bus.capacitor_voltage", f"{rated:g} V"))
        yield SceneTry(
            kind="capacitor",
            says=f"put {render_farads(farads)} across the bus, marked {volts.value:g} V or more",
            rig=dataclasses.replace(
                rig, bus=dataclasses.replace(bus, capacitance=exact(farads), capacitor_voltage=volts)
            ),
            script=scored.script,
            edits=tuple(edits),
            cost=coins_for(rig, "capacitor"),
            size=0.15 + 0.07 * math.log10(farads / FARADS[0]),
        )


def render_farads(farads: float) -> str:
    """A capacitor as it is marked."""
    return f"{farads:g} F" if farads >= 1 else f"{1e3 * farads:g} mF"


def _open_volts(scored: Scored) -> float:
    """Open volts in a sprint in the fastest gear."""
    k = float(scored.solved.bound.extras["k_emf_cold"][0])
    return k * float(np.max(scored.solved.bound.ratio[:, 0])) * overspeed(scored.solved.bound.rig)


def clamps(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """A resistor that switches in between the working volts and the weakest rating, and swallows a sprint."""
    rig = filled.rig
    rated = [float(x) for x in scored.moving.mv[0, :, Move.V_RATED] if math.isfinite(x)]
    load = scored.solved.bound.hookup.load
    if load is not None and load.voltage_max is not None and scored.solved.bound.hookup.board is None:
        rated.append(load.voltage_max.value)
    if not rated:
        return
    weakest = min(rated)
    working = float(np.nanmedian(played.rows[: max(len(played.times) // 8, 2), channel(Chan.V_BUS)]))
    battery = scored.solved.bound.hookup.battery
    if (
        battery is not None
        and battery.charge_voltage is not None
        and scored.solved.bound.hookup.board is None
    ):
        working = max(working, battery.charge_voltage.value)
    bound = scored.solved.bound
    sprint = float(power_for(bound.critical_power[0], bound.work_reserve[0], 10.0, bound.p_peak[0]))
    for share in (0.5, 0.75, 0.25):
        volts = round3(min(working + share * (weakest - working), CLAMP_BELOW * weakest))
        if volts <= 1.02 * working:
            continue
        ohms = round2(0.8 * volts**2 / sprint)
        watts = float(math.ceil(sprint / 50) * 50)
        body = f'voltage = "{volts:g} V"\nresistance = "{ohms:g} ohm"\npower = "{watts:g} W"'
        edits = (
            (("clamp+", body),)
            if rig.clamp is None
            else (
                ("clamp.voltage", f"{volts:g} V"), ("clamp.resistance", f"{ohms:g} ohm"), ("clamp.power", f"{watts:g} W"),
            )
        )  # fmt: skip
        yield SceneTry(
            kind="clamp",
            says=f"fit a clamp that switches {ohms:g} ohm for {watts:g} W in at {volts:g} V",
            rig=dataclasses.replace(
                rig, clamp=Clamp(voltage=exact(volts), resistance=exact(ohms), power=exact(watts))
            ),
            script=scored.script,
            edits=edits,
            cost=coins_for(rig, "clamp"),
            size=0.2 + 0.02 * abs(share - 0.5),
        )


def round3(x: float) -> float:
    """Three significant digits."""
    return float(f"{x:.3g}")


def flywheels(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """A steel disc on one of the shafts, the lightest first; none whose rim would run too fast in a sprint."""
    rig, stages = filled.rig, scored.solved.bound.stages
    limit = float(flywheel.rim_ceiling(flywheel.RIM_CEILINGS["machined steel disc"]))
    tries: list[SceneTry] = []
    for place in range(1, len(rig.stage) + 1):
        fastest = float(np.max(np.prod(stages.ratio[:place, :, 0], axis=0))) * overspeed(rig)
        machine = place == len(rig.stage)
        where = "the machine's shaft" if machine else f"the shaft after the {stages.names[place - 1]}"
        for mass in DISC_MASSES:
            across = next((d for d in DISC_ACROSS if _turns_well(mass, d, fastest, limit)), None)
            if across is None:
                continue
            name = f"{mass:g} kg disc"
            wheel = Flywheel(
                name=name, after_stage=place, mass=exact(mass), diameter=exact(across), material="steel_disc", guarded=True
            )  # fmt: skip
            body = (
                f'name = "{name}"\nafter_stage = "{place}"\nmass = "{mass:g} kg"\ndiameter = "{1e3 * across:g} mm"\n'
                'material = "steel_disc"\nguarded = "true"'
            )
            tries.append(
                SceneTry(
                    kind="flywheel",
                    says=f"put a steel disc of {mass:g} kg, {1e3 * across:g} mm across, on {where}, behind a guard",
                    rig=dataclasses.replace(rig, flywheel=(*rig.flywheel, wheel)),
                    script=scored.script,
                    edits=(("flywheel+", body),),
                    cost=coins_for(rig, "flywheel"),
                    size=0.22 + 0.02 * mass,
                )
            )
    yield from sorted(tries, key=lambda one: one.size)


def _turns_well(mass: float, across: float, fastest: float, limit: float) -> bool:
    """Whether a steel disc of that size is a disc, and its rim stands a sprint with a margin."""
    thick = mass / (STEEL * math.pi / 4 * across**2)
    return THINNEST <= thick <= THICKEST and RIM_MARGIN * fastest * across / 2 <= limit
