"""Short scenes of one rig played once each, and kept: what hazards, starts and nearest yes stand on where seconds decide.

A scene here is one nominal run of a few seconds, told in the same words that a script takes, so that what is found can be
shown. Rigs that share a bus are played one by one, each with its share of the load.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sparewatt.language.names import CHARGE
from sparewatt.language.telling import amount, quoted
from sparewatt.parts import Rider
from sparewatt.rig.asking import Ask
from sparewatt.rig.bind import find_rider
from sparewatt.rig.bind_load import work_torque_share
from sparewatt.rig.fill import Filled
from sparewatt.rig.motion import (
    TOLERANCE,
    Moving,
    Played,
    Start,
    at_once,
    bind_motion,
    channel,
    compile_aside,
    play,
)  # fmt: skip
from sparewatt.rig.motion_layout import Act, Chan, Event, Out, Shared
from sparewatt.rig.operating import RPM, State, operate
from sparewatt.studies.scenes.seconds import LIGHT, SETTLE

__all__ = ["Plays", "Ridden", "Shown", "Step", "round_watts"]

F = NDArray[np.float64]
BUDGET = 20_000  # steps a scene may take: one that swings so fast is told as far as it was followed
PLAIN_TOLERANCE, PLAIN_BUDGET = 2e-3, 1500  # while nothing is compiled yet
FINE = 0.021  # s: scenes sampled as finely as this are about the push within the turn
EVERY, MOST_SAMPLES = 0.05, 1500  # s between samples, and how many at most


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a scene: when, the words a script takes, and what the kernel is told."""

    at: float  # s
    words: str
    kind: Act
    value: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ridden:
    """One load at one effort by one rider, solved and made ready to move; gears are chosen when it is played."""

    ask: Ask
    solved: State
    moving: Moving
    rider: Rider

    @property
    def liked(self) -> float:
        """The cadence this rider likes, rad/s."""
        return self.rider.cadence.value if self.rider.cadence is not None else 65 * RPM

    def hold(self, gear: int) -> float:
        """Crank speed at which the effort settles in a gear; NaN where it does not."""
        return float(self.solved.found.w_hold[gear, 0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A scene that was played, and its words."""

    words: str
    ask: Ask
    moving: Moving
    played: Played

    def rows(self, name: Chan | Shared) -> F:
        """One channel at the sampled times, as far as it was followed."""
        return np.asarray(self.played.rows[: self.followed, channel(name, self.played.rigs)])

    def least(self, name: Chan | Shared) -> F:
        """Lowest of one channel since the sample before."""
        return np.asarray(self.played.least[: self.followed, channel(name, self.played.rigs)])

    def most(self, name: Chan | Shared) -> F:
        """Highest of one channel since the sample before."""
        return np.asarray(self.played.most[: self.followed, channel(name, self.played.rigs)])

    def peak(self, name: Chan | Shared) -> float:
        """The highest value of one channel."""
        return float(self.played.peaks[channel(name, self.played.rigs), 0])

    def when(self, *events: Event) -> F:
        """Times at which one of these happened."""
        rows = self.played.events
        return np.asarray(rows[np.isin(rows[:, 1], [int(e) for e in events]), 0])

    @property
    def times(self) -> F:
        """Sampled times, s, as far as it was followed."""
        return self.played.times[: self.followed]

    @property
    def followed(self) -> int:
        """How many samples were reached."""
        return self.played.followed

    @property
    def whole(self) -> bool:
        """Whether it was followed to its end."""
        return self.played.status == 0


@dataclass(slots=True)
class Plays:
    """The scenes of one rig: each is solved and played when it is first asked for."""

    filled: Filled
    usual: Ask  # rider, load and effort where a scene names none
    quiet: bool = False  # nothing is played: what is asked of it answers that it does not know
    _rides: dict[tuple[str, str, float], Ridden] = field(default_factory=dict)
    _shown: dict[tuple[object, ...], Shown] = field(default_factory=dict)
    _changed: dict[tuple[object, ...], Moving] = field(default_factory=dict)

    def ride(
        self, *, load: str | None = None, rider: str | None = None, effort: float | None = None
    ) -> Ridden:
        """The question behind a scene: the usual load, rider and effort where none is given; the machine is cold."""
        ask = dataclasses.replace(
            self.usual,
            load=self.usual.load if load is None else load,
            rider=self.usual.rider if rider is None else rider,
            effort=round_watts(self.usual.effort if effort is None else effort),
            gear=None,
            cadence=None,
            duration=10.0,
            draws=0,
        )
        key = (ask.load, ask.rider, ask.effort)
        if key not in self._rides:
            solved = operate(self.filled, ask)
            moving = bind_motion(self.filled, solved.bound)
            self._rides[key] = Ridden(
                ask=ask, solved=solved, moving=moving, rider=find_rider(self.filled.rig, ask.rider)
            )
        return self._rides[key]

    def changed(self, key: tuple[object, ...], make: Callable[[], Moving]) -> Moving:
        """A rig with numbers changed, made once."""
        if key not in self._changed:
            self._changed[key] = make()
        return self._changed[key]

    def play(
        self,
        ridden: Ridden,
        gear: int,
        steps: Sequence[Step] = (),
        *,
        duration: float,
        rest: bool = False,
        on: bool = True,
        moving: Moving | None = None,
        every: float = EVERY,
        work: float | None = None,
        cadence: float | None = None,
    ) -> Shown:
        """Play one scene in one gear, riding along at its effort (or at an even cadence), or from rest.

        on: the load is on from the start. moving: the same rig with numbers changed. work: share of a tool's rated torque.
        """
        how = (duration, rest, on, None if moving is None else id(moving), every, work, cadence)
        key = (ridden.ask, gear, tuple(steps), *how)
        if key not in self._shown:
            start = _start(ridden, gear, rest=rest, on=on, work=work, cadence=cadence)
            count = min(math.ceil(duration / every - 1e-9), MOST_SAMPLES) + 1
            quick = at_once()
            if not quick:
                compile_aside()
                if every > FINE:
                    start = dataclasses.replace(start, even=True, longest=0.5)
            played = play(
                moving or ridden.moving,
                _acts(steps, ridden.ask.effort, waits=not on and not rest and cadence is None),
                start,
                duration=duration,
                times=np.linspace(0.0, duration, count),
                tolerance=TOLERANCE if quick else PLAIN_TOLERANCE,
                budget=BUDGET if quick else PLAIN_BUDGET,
                plain=not quick,
            )[0]
            words = _words(ridden, gear, steps, duration, rest=rest, on=on, cadence=cadence)
            self._shown[key] = Shown(
                words=words, ask=ridden.ask, moving=moving or ridden.moving, played=played
            )
        return self._shown[key]


def _acts(steps: Sequence[Step], effort: float, *, waits: bool) -> list[tuple[float, Act, int, float]]:
    """Steps for the kernel. A rider with nothing to push keeps the cadence even until the load comes on, as in a script."""
    acts: list[tuple[float, Act, int, float]] = []
    for s in steps:
        acts.append((s.at, s.kind, 0, s.value))
        if s.kind in (Act.EFFORT, Act.CADENCE, Act.POWER, Act.STOP):
            waits = False
        if s.kind == Act.ON and waits:
            waits = False
            acts.append((s.at, Act.EFFORT, 0, effort))
    return acts


def _start(
    ridden: Ridden, gear: int, *, rest: bool, on: bool, work: float | None, cadence: float | None
) -> Start:
    """As `seconds.stage_scene` starts: where the effort settles and some seconds on, else at the liked cadence."""
    solved = ridden.solved
    hold = ridden.hold(gear)
    fed = on or ridden.ask.load == CHARGE
    held = math.isfinite(hold) and not rest and fed and cadence is None
    w = hold if held else (cadence or ridden.liked)
    even = cadence is not None or (not fed and not rest)
    return Start(
        gear=gear,
        w_crank=0.0 if rest else w,
        holds=1 if even else 0,
        want=w if even else ridden.ask.effort,
        switched_on=on and ridden.ask.load != CHARGE,
        work=_first_work(ridden.moving) if work is None else work,
        winding=solved.warmth.winding,
        case=solved.warmth.case,
        settle=SETTLE if held or (even and not rest) else 0.0,
    )


def _first_work(moving: Moving) -> float:
    load = moving.bounds[0].hookup.load
    return 1.0 if load is None or moving.oc[0, Out.MOTOR] != 1.0 else work_torque_share(load, LIGHT)


def _words(
    ridden: Ridden, gear: int, steps: Sequence[Step], duration: float, *, rest: bool, on: bool, cadence: float | None
) -> str:  # fmt: skip
    """The scene in the words that a script takes."""
    ask, gears = ridden.ask, ridden.solved.bound.gears
    head = [f"{quoted(ask.rider)} rides {'from rest' if rest else 'along'}"]
    if cadence is not None:
        head.append(f"holding {amount(cadence, ('rpm',), 'rad/s', 4)}")
    head.append(f"at an effort worth {ask.effort:g} W")
    if len(gears) > 1:
        head.append(f"in gear {gears[gear]}")
    head.append(
        "charging the battery" if ask.load == CHARGE else f"with {_the(ask.load)} {'on' if on else 'off'}"
    )
    head.append(f"for {duration:g} s")
    return "; ".join([", ".join(head), *(f"at {s.at:g} s {s.words}" for s in steps)])


def _the(name: str) -> str:
    said = quoted(name)
    return said if said.casefold().startswith("the ") else f"the {said}"


def round_watts(watts: float) -> float:
    """Watts of an effort as they are said: three digits."""
    return float(f"{watts:.3g}")
