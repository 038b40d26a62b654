"""Too many volts: over-speed in every gear, boards that pass volts through, dropped loads."""

from __future__ import annotations

import math

import numpy as np

from sparewatt.parts import Converter
from sparewatt.rig import solve
from sparewatt.rig.operating import RPM, State
from sparewatt.rig.outcome import Mode
from sparewatt.rig.refusals import refusal
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.scene import MARGIN, Check, Scene
from sparewatt.studies.guard.seconds import (
    Raced,
    Sprint,
    let_through,
    pulled,
    sprinted,
    unhooked,
    usual,
)
from sparewatt.studies.guard.words import finding, listed, number, soon, turns, value

__all__ = ["CHECKS", "ratings"]

NEAR_WORK = 1.25  # a speed within a quarter of the usual one is met on every ride


def ratings(scene: Scene) -> list[tuple[str, float, str, str]]:
    """(part, rated volts or NaN, link key, what to look for) of everything the machine's open volts can reach."""
    found = [
        (
            board.name,
            value(board.input_max),
            "board",
            f"the most volts printed at the input of the {board.name}",
        )
        for board in scene.boards()
    ]
    bus = scene.rig.bus
    if bus is not None and bus.capacitance is not None:
        found.append(
            ("bus capacitor", value(bus.capacitor_voltage), "board", "the volts printed on the capacitor")
        )
    for load in scene.bare_loads():
        found.append((load.name, value(load.voltage_max), "load", f"the most volts the {load.name} may see"))
    return found


def _over_volts(scene: Scene) -> list[Finding] | None:
    """Open volts at over-speed in every gear against every rating."""
    parts = ratings(scene)
    if not parts:
        return None
    found = []
    for name, rated, link, look in parts:
        ceiling = min(float(np.max(scene.ceilings)), scene.clamped)
        needed = ceiling if math.isfinite(scene.clamped) and ceiling == scene.clamped else MARGIN * ceiling
        if math.isfinite(rated) and needed <= rated:
            continue
        check = "stop" if math.isfinite(rated) and ceiling > rated else "look again"
        played, seconds = _over_played(scene, name, rated, bare=link == "load")
        found.append(
            finding(
                f"over-volts: {name}",
                "Too many volts when you spin free",
                check,
                f"{_over_says(scene, name, rated)} {played}".strip(),
                _over_do(scene, name, rated, look),
                at=("match", link),
                severity=3 if check == "stop" else 2,
                source="over_volts_practice",
                found=ceiling,
                threshold=rated,
                unit="V",
                seconds=seconds,
            )
        )
    return found


def _over_played(scene: Scene, name: str, rated: float, *, bare: bool) -> tuple[str, str]:
    """What the seconds show: the plug pulled at the usual effort and in a sprint, or a sprint into a bare load."""
    if scene.plays.quiet:
        return "", ""
    if bare:
        ran = max(
            (sprinted(scene.plays, name, g) for g in range(len(scene.gears))), key=lambda one: one.v_out
        )
        return (
            f"Played: in a sprint {scene.gear(ran.gear)} it gets {number(ran.v_out, 'V')}.",
            ran.shown.words,
        )
    calm, wild = (_worst(pulled(scene.plays, sprint=sprint)) for sprint in (False, True))
    if calm is None or wild is None:
        return "", ""
    watts = number(scene.plays.ride().ask.effort, "W")
    says = (
        f"Played: pull the plug {scene.gear(calm.gear)} while you push {watts}, and the bus reaches "
        f"{number(calm.volts, 'V')}{_how_soon(calm, rated)}; in a sprint {number(wild.volts, 'V')}"
        f"{_how_soon(wild, rated)}{_shifted(scene, rated)}."
    )
    return says, (calm if calm.volts > rated else wild).shown.words


def _shifted(scene: Scene, rated: float) -> str:
    """A sprint in the easiest gear, shifted into the hardest with the load still on; nothing with one gear or no danger."""
    slow, fast = int(np.argmin(scene.ceilings)), scene.top
    ridden = usual(scene.plays)
    if slow == fast or ridden is None:
        return ""
    ran = sprinted(scene.plays, ridden.ask.load, fast, shift_from=slow)
    if not ran.v_bus > rated:
        return ""
    return (
        f", and {number(ran.v_bus, 'V')} when you shift to {scene.gears[fast]} in it with the load still on"
    )


def _how_soon(raced: Raced, rated: float) -> str:
    """When a rating is passed, in brackets; nothing where it is not."""
    passed = raced.passes(rated) if math.isfinite(rated) else math.nan
    return f" (past {number(rated, 'V')} {soon(passed)})" if math.isfinite(passed) else ""


def _worst(raced: tuple[Raced, ...]) -> Raced | None:
    return max(raced, key=lambda one: one.volts, default=None)


def _turns(w: float) -> str:
    return f"{w / RPM:.0f} turns"


def _over_says(scene: Scene, name: str, rated: float) -> str:
    g = scene.top
    slower = 11 / 12 * scene.fastest
    makes = (
        f"At {_turns(slower)} {scene.gear(g)} the motor makes {number(scene.ceilings[g] * 11 / 12, 'V')} "
        f"with nothing drawing, "
        f"at {_turns(scene.fastest)} {number(scene.ceilings[g], 'V')}"
    )
    if not math.isfinite(rated):
        return f"{makes}. The file does not say what volts the {name} stands."
    over = [k for k in range(len(scene.gears)) if scene.ceilings[k] > rated]
    if not over:
        return f"{makes}; the {name} is rated {number(rated, 'V')}, which leaves less than a quarter in hand."
    per_gear = listed(
        [
            f"{number(scene.ceilings[k], 'V')} {scene.gear(k)}"
            for k in np.argsort(-scene.ceilings)
            if k in over
        ]
    )
    first = turns(rated / (scene.k_emf * scene.ratio[g]))
    many = f" Gears that pass it at {_turns(scene.fastest)}: {per_gear}." if len(over) > 1 else ""
    return (
        f"{makes}; the {name} is rated {number(rated, 'V')}. You pass that at {first}.{many} One slip "
        "of a plug can kill it."
    )


def _over_do(scene: Scene, name: str, rated: float, look: str) -> str:
    need = number(MARGIN * float(np.max(scene.ceilings)), "V")
    if not math.isfinite(rated):
        return (
            f"Look for {look}: it should be {need} or more. Spin it up unloaded with only a meter on "
            "before you join it."
        )
    fits = [k for k in range(len(scene.gears)) if MARGIN * scene.ceilings[k] <= rated]
    gear = (
        f", lock out all gears above {scene.gears[max(fits, key=lambda k: scene.ceilings[k])]}"
        if fits
        else ""
    )
    return f"Take a part rated {need}{gear}, or fit a clamp that switches in below {number(rated, 'V')}."


def _passes(scene: Scene) -> list[Finding] | None:
    """Step-up boards cannot hold their output below their input."""
    boards = [b for b in scene.boards() if b.kind == "boost"]
    if not boards:
        return None
    found: list[Finding] = []
    for board in boards:
        found += _passes_one(scene, board)
    return found


def _passes_one(scene: Scene, board: Converter) -> list[Finding]:
    """Where one step-up board stops holding back the volts, gear by gear."""
    solved = next(s for s in (scene.solved, *scene.hard) if s.bound.hookup.board == board)
    limit = value(board.set_voltage, 0.0) + value(board.drop, 0.0)
    cadence = np.linspace(30 * RPM, 150 * RPM, 241)
    loaded = _passing_speeds(solved, cadence)
    asked = solved.gear
    opens = limit / (scene.k_emf * scene.ratio)
    if float(np.min(opens)) > scene.fastest and not (loaded <= scene.fastest).any():
        return []
    first = loaded[asked] if math.isfinite(loaded[asked]) else float(opens[asked])
    worst = int(np.argmin(opens))
    store = solved.bound.hookup.battery is not None
    high = scene.p_rider > 0 and first <= NEAR_WORK * max(scene.w_work, 65 * RPM)
    g = asked if first <= scene.fastest else worst
    speed = first if g == asked else (loaded[g] if math.isfinite(loaded[g]) else float(opens[g]))
    where = "in this gear" if g == asked else scene.gear(g)
    after, seconds = _let_through(scene, solved, g, store=store)
    return [
        finding(
            f"passes through: {board.name}",
            "The board passes the volts straight through",
            "stop" if high and not store else "look again",
            f"Above {turns(speed)} {where} the board can no longer hold back the voltage; {after}. Its "
            "amps limit does nothing there.",
            "Use a step-up-and-down board, or a lower gear.",
            at=("match", "board"),
            severity=3 if store else 2,
            source="back_emf",
            found=speed,
            threshold=scene.fastest,
            unit="rad/s",
            seconds=seconds,
        )
    ]


def _let_through(scene: Scene, solved: State, g: int, *, store: bool) -> tuple[str, str]:
    """What comes through in a sprint, and the words of that scene."""
    if scene.plays.quiet:
        return "what hangs on it then gets whatever the legs make", ""
    ran = let_through(scene.plays, solved.ask.load, g)
    return (_let_into_battery(scene, ran) if store else _let_into_load(solved, ran)), ran.shown.words


def _let_into_battery(scene: Scene, ran: Sprint) -> str:
    limit = value(scene.battery.charge_current) if scene.battery is not None else math.nan
    allowed = f"; {number(limit, 'A')} is what it may take" if ran.amps_battery > limit else ""
    return (
        "the battery then gets every amp you can push, with no limit on volts or amps: in a sprint "
        f"{number(ran.amps_battery, 'A')}{allowed}"
    )


def _let_into_load(solved: State, ran: Sprint) -> str:
    load = solved.bound.hookup.load
    most = value(load.voltage_max) if load is not None else math.nan
    stands = f"; it stands {number(most, 'V')}" if ran.v_out > most else ""
    return f"the load sees whatever the machine makes: in a sprint {number(ran.v_out, 'V')}{stands}"


def _passing_speeds(solved: State, cadence: np.ndarray) -> np.ndarray:
    """Lowest crank speed in each gear at which the loaded board passes straight through; inf where it never does."""
    mode = solve.lines(solved.bound, cadence)[1, :, 0]
    through = mode == Mode.PASSES
    return np.where(through.any(axis=1), cadence[np.argmax(through, axis=1)], np.inf)


def _rejection(scene: Scene) -> list[Finding] | None:
    """What happens in the half second after the load is gone."""
    if scene.plays.quiet:
        return None
    looked = [*_dropped(scene), *_clipped(scene)]
    if not looked:
        return None
    over = [item for item in looked if item[2].volts > item[0]]
    if not over:
        return []
    return [_rejected(scene, *min(over, key=lambda item: item[0]))]


def _dropped(scene: Scene) -> list[tuple[float, str, Raced, str]]:
    """(rating, part, worst run, link) of everything that stays on the bus when the plug goes."""
    known = [(r, name) for name, r, link, _look in ratings(scene) if math.isfinite(r) and link == "board"]
    calm, wild = (_worst(pulled(scene.plays, sprint=sprint)) if known else None for sprint in (False, True))
    if calm is None or wild is None:
        return []
    return [(r, name, calm if calm.volts > r else wild, "board") for r, name in known]


def _clipped(scene: Scene) -> list[tuple[float, str, Raced, str]]:
    """The same for the weakest load on the battery, when the battery's clip comes off and the load stays on the bus."""
    charged = value(scene.battery.charge_voltage) if scene.battery is not None else math.nan
    # The battery itself stands above some ratings while it is charged: nothing can be clamped below that.
    rated = {
        x.name: max(value(x.voltage_max), 1.05 * charged)
        for x in scene.rig.load
        if scene.on_battery(x) and scene.feeding(x) is None and refusal(scene.rig, x.name) is None
    }
    known = {name: r for name, r in rated.items() if math.isfinite(r)}
    if not known:
        return []
    name = min(known, key=lambda one: known[one])
    calm, wild = (unhooked(scene.plays, name, scene.top, sprint=sprint) for sprint in (False, True))
    return [(known[name], name, calm if calm.volts > known[name] else wild, "load")]


def _rejected(scene: Scene, rated: float, name: str, raced: Raced, link: str) -> Finding:
    weak = "" if scene.rig.clamp is None else " The clamp is too small, or set too high, to hold it."
    passed = raced.passes(rated)
    push = "in a sprint" if raced.sprint else f"while you push {number(scene.plays.ride().ask.effort, 'W')}"
    what = "a plug slips or a fuse opens" if link == "board" else "the battery's clip comes off"
    return finding(
        "load rejection",
        "The load drops off while you push",
        "look again",
        f"If {what} {push} {scene.gear(raced.gear)}, the {name}, which stands {number(rated, 'V')}, is past that "
        f"{soon(passed)} and sees {number(raced.volts, 'V')}, your legs at {turns(raced.w_crank)}.{weak}",
        f"Fit a clamp: a resistor for {number(scene.p_sprint, 'W')} for five seconds that switches in "
        f"below {number(rated, 'V')}. Switch the load off only after you stop.",
        at=("match", link),
        severity=2,
        source="over_volts_practice",
        found=passed,
        unit="s",
        seconds=raced.shown.words,
    )


CHECKS: tuple[Check, ...] = (
    ("Over-speed volts against every rating", _over_volts),
    ("Volts passing straight through a step-up board", _passes),
    ("Volts when the load drops off", _rejection),
)
