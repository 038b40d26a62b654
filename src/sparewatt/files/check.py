"""What must agree between the parts of one rig: names that are referred to, names used twice, limits that cross."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from sparewatt.files.spots import Path
from sparewatt.files.values import nearest
from sparewatt.files.walk import Walk
from sparewatt.parts.records import BELTS, Rig, Stage
from sparewatt.parts.values import Measured

__all__ = ["check_rig"]

CHARGE = "charge"
# At an easy 60 turns a minute of the crank 1,600 times is 96,000 of the machine: small motors of tools end near 30,000, and
# above 100,000 no winding holds (common practice, no source). At 0.01 times it turns once in two minutes and gives nothing.
MOST_TURNS, LEAST_TURNS = 1600.0, 0.01
MOST_GEARS = 200
WHEEL = 0.67  # m, across a usual wheel, where only its tyre is told: near enough for these limits


def check_rig(rig: Rig, walk: Walk) -> None:
    """Every disagreement between parts, added to `walk.problems`."""
    checks: tuple[Callable[[Rig, Walk], None], ...] = (
        _check_names, _check_boards, _check_ride, _check_gear, _check_neighbours, _check_flywheels, _check_ratios,
        _check_order, _check_curves, _check_leads, _check_settings,
    )  # fmt: skip
    for check in checks:
        check(rig, walk)


def _check_names(rig: Rig, walk: Walk) -> None:
    """No two parts of a kind share a name."""
    for kind in ("rider", "stage", "flywheel", "switch", "socket", "converter", "load", "neighbour"):
        seen: dict[str, int] = {}
        for index, part in enumerate(getattr(rig, kind)):
            name = part.name.casefold()
            if name and name in seen:
                walk.complain(
                    (kind, index, "name"),
                    f'two of [[{kind}]] are called "{part.name}".',
                    "give each a name of its own",
                    part.name,
                )
            seen.setdefault(name, index)
    for index, load in enumerate(rig.load):
        if load.name.casefold() == CHARGE:
            walk.complain(
                ("load", index, "name"), '"charge" stands for charging the battery, so no load can be called that.',
                "give the load another name", load.name,
            )  # fmt: skip


def _refers(walk: Walk, path: Path, name: str, known: Sequence[str], what: str) -> None:
    table = {"board": "converter"}.get(what, what)
    if not name or walk.muddled((table,), "name") or name.casefold() in {other.casefold() for other in known}:
        return
    close = nearest(name, known)
    hint = f'did you mean "{close}"?' if close else ""
    listed = ", ".join(f'"{other}"' for other in known)
    hint = hint or (
        f"{what}s here: {listed}" if known else f"add one, or leave this out: there is no {what} in the file"
    )
    walk.complain(path, f'there is no {what} called "{name}".', hint, name)


def _check_boards(rig: Rig, walk: Walk) -> None:
    """`through` names a board that is there."""
    boards = [board.name for board in rig.converter]
    for index, load in enumerate(rig.load):
        _refers(walk, ("load", index, "through"), load.through, boards, "board")
    if rig.battery is not None:
        _refers(walk, ("battery", "through"), rig.battery.through, boards, "board")


def _check_ride(rig: Rig, walk: Walk) -> None:
    """The usual question names a rider and a load that are there."""
    if rig.ride is None:
        return
    _refers(walk, ("ride", "rider"), rig.ride.rider, [rider.name for rider in rig.rider], "rider")
    loads = [load.name for load in rig.load]
    if rig.ride.load.casefold() == CHARGE and rig.battery is None and not walk.muddled(("battery",)):
        walk.complain(
            ("ride", "load"),
            '"charge" needs a battery, and there is none in the file.',
            "add [battery]",
            rig.ride.load,
        )
    elif rig.ride.load.casefold() != CHARGE:
        _refers(walk, ("ride", "load"), rig.ride.load, [*loads, CHARGE] if rig.battery else loads, "load")


def _gears(stage: Stage) -> list[str]:
    return [f"{a}/{b}" for a in stage.driver_teeth for b in stage.driven_teeth]


def _check_gear(rig: Rig, walk: Walk) -> None:
    """The usual gear is one that the drive has."""
    if rig.ride is None or not rig.ride.gear or walk.muddled(("stage",)) or rig.ride.gear == "single":
        return
    known = [gear for stage in rig.stage for gear in _gears(stage)]
    for gear in rig.ride.gear.split(" + "):
        if gear.strip() not in known:
            listed = ", ".join(known) or "none; give driver_teeth and driven_teeth in a [[stage]]"
            walk.complain(
                ("ride", "gear"), f'there is no gear "{gear}".', f"gears here: {listed}", rig.ride.gear
            )


def _check_neighbours(rig: Rig, walk: Walk) -> None:
    """A neighbour's rider is one of the riders."""
    riders = [rider.name for rider in rig.rider]
    for index, other in enumerate(rig.neighbour):
        _refers(walk, ("neighbour", index, "rider"), other.rider, riders, "rider")


def _check_flywheels(rig: Rig, walk: Walk) -> None:
    """A flywheel sits on a shaft that is there."""
    for index, wheel in enumerate(rig.flywheel):
        if (
            wheel.after_stage is not None
            and wheel.after_stage > len(rig.stage)
            and not walk.muddled(("stage",), "stage")
        ):
            walk.complain(
                ("flywheel", index, "after_stage"), f"the drive has only {len(rig.stage)} steps.",
                f"a whole number from 0 (the crank) to {len(rig.stage)} (the machine)", str(wheel.after_stage),
            )  # fmt: skip


def _check_ratios(rig: Rig, walk: Walk) -> None:
    """Each step of a drive says how much faster its driven side turns."""
    drives: list[tuple[Path, tuple[Stage, ...]]] = [(("stage",), rig.stage)]
    drives += [(("neighbour", index, "stage"), other.stage) for index, other in enumerate(rig.neighbour)]
    for path, stages in drives:
        for index, stage in enumerate(stages):
            _check_ratio(stage, (*path, index), walk)
        if not walk.muddled(path):
            _check_total(stages, path, walk)


def _check_total(stages: tuple[Stage, ...], path: Path, walk: Walk) -> None:
    """All steps together give a speed that a machine can turn at, in a number of gears that a drive can have."""
    each = [_ratios_of(stage) for stage in stages]
    gears = math.prod(len(ratios) for ratios in each)
    fastest, slowest = (math.prod(pick(ratios) for ratios in each) for pick in (max, min))
    if gears > MOST_GEARS:
        walk.complain(path, f"this drive has {gears} gears.", f"at most {MOST_GEARS} are told apart")
    for ratio, wrong in ((fastest, fastest > MOST_TURNS), (slowest, slowest < LEAST_TURNS)):
        if wrong:
            says = f"all steps together turn the machine {ratio:.3g} times for one turn of the crank."
            hint = f"look at each step again; {LEAST_TURNS:g} to {MOST_TURNS:g} times is what a drive can be built for"
            walk.complain(path, says, hint, f"{ratio:.3g}")


def _ratios_of(stage: Stage) -> list[float]:
    """Driven turns for one driving turn in each gear of a step that says it."""
    if stage.ratio is not None:
        return [stage.ratio.value]
    if stage.driver_teeth and stage.driven_teeth:
        return [a / b for a in stage.driver_teeth for b in stage.driven_teeth]
    if stage.driven_diameter is None:
        return [1.0]
    if stage.driver_diameter is not None:
        return [stage.driver_diameter.value / stage.driven_diameter.value]
    return [WHEEL / stage.driven_diameter.value]


def _check_ratio(stage: Stage, path: Path, walk: Walk) -> None:
    teeth = bool(stage.driver_teeth and stage.driven_teeth)
    driver = stage.driver_diameter is not None or (bool(stage.tyre) and stage.kind == "roller")
    if (
        stage.ratio is None
        and not teeth
        and not (driver and stage.driven_diameter is not None)
        and stage.kind != "direct"
    ):
        toothed = stage.kind in ("chain", "gears", "toothed_belt")
        ways = (
            "driver_teeth and driven_teeth, or ratio"
            if toothed
            else "driver_diameter and driven_diameter, or ratio"
        )
        if stage.kind == "roller":
            ways = "tyre (or driver_diameter) and driven_diameter, or ratio"
        called = f' "{stage.name}"' if stage.name else ""
        walk.complain(
            path, f"this step{called} does not say how much faster its driven side turns.", f"give {ways}"
        )
    if stage.ribs is not None and stage.kind not in BELTS:
        walk.complain(
            (*path, "ribs"), f'"{stage.kind}" has no ribs.', 'ribs go with "ribbed_belt"', str(stage.ribs)
        )


def _crossed(walk: Walk, path: Path, part: Any, lower: str, upper: str) -> None:
    low, high = getattr(part, lower), getattr(part, upper)
    if isinstance(low, Measured) and isinstance(high, Measured) and low.value > high.value * (1 + 1e-12):
        walk.complain(
            (*path, lower), f'"{lower}" is above "{upper}".', "swap the two, or look at the label again"
        )


def _check_order(rig: Rig, walk: Walk) -> None:
    """What must not be above something else is not."""
    for index, load in enumerate(rig.load):
        for lower, upper in (
            ("voltage_min", "voltage_max"),
            ("voltage_min", "voltage"),
            ("voltage", "voltage_max"),
        ):
            _crossed(walk, ("load", index), load, lower, upper)
    for index, board in enumerate(rig.converter):
        for lower, upper in (
            ("input_min", "input_max"),
            ("output_min", "output_max"),
            ("input_min", "restart"),
            ("restart", "input_max"),
        ):
            _crossed(walk, ("converter", index), board, lower, upper)
    for index, rider in enumerate(rig.rider):
        _crossed(walk, ("rider", index), rider, "cadence", "top_cadence")
        _crossed(walk, ("rider", index), rider, "critical_power", "peak_power")
    if rig.battery is not None:
        _crossed(walk, ("battery",), rig.battery, "low_voltage", "charge_voltage")
    if rig.machine is not None:
        _crossed(walk, ("machine",), rig.machine, "current_limit", "current_limit_short")


def _check_curves(rig: Rig, walk: Walk) -> None:
    """An efficiency curve starts at zero watts or above and stays between 0 and 1."""
    for index, board in enumerate(rig.converter):
        for watts, share in board.efficiency_curve or ():
            if watts < 0 or not 0 < share <= 1:
                pair = f"[{watts:g}, {share:g}]"
                hint = "watts from 0 up, and efficiencies above 0 and at most 1"
                path: Path = ("converter", index, "efficiency_curve")
                walk.complain(path, f"the pair {pair} cannot be watts and an efficiency.", hint, pair)


def _check_leads(rig: Rig, walk: Walk) -> None:
    """What a wire, fuse, switch or socket leads to is a load or board that is there."""
    ends = [load.name for load in rig.load] + [board.name for board in rig.converter]
    for kind in ("wire", "fuse", "switch", "socket"):
        for index, piece in enumerate(getattr(rig, kind)):
            if not (walk.muddled(("load",), "name") or walk.muddled(("converter",), "name")):
                _refers(walk, (kind, index, "to"), piece.to, ends, "load or board")


def _check_settings(rig: Rig, walk: Walk) -> None:
    """A setting that is asked for is one of the board that feeds what asks."""
    for k, board in enumerate(rig.converter):
        names = [point.name.casefold() for point in board.setting]
        for n, point in enumerate(board.setting):
            if point.name.casefold() in names[:n]:
                walk.complain(
                    ("converter", k, "setting", n, "name"),
                    f'two settings of this board are called "{point.name}".',
                    "give each a name of its own",
                    point.name,
                )
    asking: list[tuple[Path, str, str]] = [
        (("load", k, "setting"), load.setting, load.through) for k, load in enumerate(rig.load)
    ]
    if rig.battery is not None:
        asking.append((("battery", "setting"), rig.battery.setting, rig.battery.through))
    for path, wanted, through in asking:
        if not wanted or walk.muddled(("converter",)):
            continue
        boards = [board for board in rig.converter if board.name.casefold() == through.casefold()]
        if not through:
            walk.complain(
                path, "a setting is asked for, and no board is named.", 'add "through" with its name', wanted
            )
        elif boards:
            known = [point.name for point in boards[0].setting]
            _refers(walk, path, wanted, known, "setting")
