"""What the solver can answer: states, crossings, and sentences for every way a point can fail to be."""

from __future__ import annotations

import enum
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Band", "Caveat", "Crossing", "Crossings", "Link", "Mode", "Point", "Stop"]

F = NDArray[np.float64]


class Mode(enum.IntEnum):
    """How the electrical side runs at one cadence. The order is the code the compiled kernel uses."""

    ASLEEP = 0  # the board is below its wake-up volts, or nothing flows yet
    REGULATES = 1  # the board holds its set volts or its set amps
    LIMITED = 2  # the board is at its input-current limit
    PASSES = 3  # step-up board: volts pass straight through
    DROPS_OUT = 4  # step-down board: not enough volts, output follows input
    DIRECT = 5  # no board: the machine feeds battery or load itself
    CHATTERS = 6  # it wakes, the volts sag, it sleeps, and again
    DRIVEN = 7  # no diode: the battery drives the machine

    def sentence(self) -> str:
        """The mode in plain words."""
        return _MODE_WORDS[self]


_MODE_WORDS = {
    Mode.ASLEEP: "nothing flows yet",
    Mode.REGULATES: "the board holds its setting",
    Mode.LIMITED: "the board takes in all the amps it can",
    Mode.PASSES: "the board passes the volts straight through",
    Mode.DROPS_OUT: "the board has too few volts and its output sags",
    Mode.DIRECT: "the machine feeds it directly",
    Mode.CHATTERS: "the board wakes, sags and sleeps, again and again",
    Mode.DRIVEN: "the battery drives the machine",
}


class Stop(enum.Enum):
    """Why there is, or is not, a running point. Members are sentences about the rig."""

    FOUND = "it holds a steady speed"
    PINNED = "the battery holds your cadence"
    STALLS = "the load asks for more than these legs have at any cadence"
    EDGE_MACHINE = "the machine cannot pass that much at the volts it makes; its own winding eats the rest"
    EDGE_BOARD = "the board cannot take in that much at the volts it gets"
    CHATTERS = "the board wakes, sags and sleeps; there is no steady running"
    NEVER_CHARGES = "the machine's volts stay below the battery at any cadence this rider can turn"
    NEVER_WAKES = (
        "the machine's volts stay below what the board needs to wake at any cadence this rider can turn"
    )
    TOO_FEW_VOLTS = "the volts stay below what the load needs"
    BREAKS = "the volts pass a part's limit where it would run"
    OVERFILLS = "it pushes more amps into the battery than its case allows"
    KEEPS = "the rig itself keeps nearly all that these legs give"
    SLIPS = "tyre or belt slips on every push: it cannot pass on that much pull"
    UNRIDABLE = "it settles at a cadence nobody can ride"
    DRAGS = "the drag of the rig alone is more than these legs have"
    UNFAIR = "the boards are set a little apart, so one rider carries everyone and is dragged to a stop"
    NOT_ON_DC = "this load must not be put on direct current"
    DEPENDED_ON = "somebody depends on it, and legs are only the back-up to the back-up"
    NO_MACHINE = "this machine cannot be used as a generator here"


@dataclass(frozen=True, slots=True)
class Caveat:
    """Something a reader must know about an answer: where it comes from, and one sentence."""

    where: str
    text: str


@dataclass(frozen=True, slots=True)
class Band:
    """A number with its 90 % band (5 % and 95 % points), and how it is known. NaN where no draw gave one."""

    mid: float
    low: float
    high: float
    how: str = "computed"

    @staticmethod
    def of(draws: F, mid: float | None = None) -> Band:
        """Band of an array of draws, NaN left out; `mid` replaces the median (the nominal value)."""
        kept = draws[np.isfinite(draws)]
        if kept.size == 0:
            nan = float("nan")
            return Band(nan if mid is None else mid, nan, nan)
        low, median, high = np.percentile(kept, (5, 50, 95))
        return Band(float(median if mid is None else mid), float(low), float(high))


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One link of the chain at a point: watts in and out, its toll, and what it sees.

    key: "legs", "stage 1".., "machine", "diode", "wire", "board", "field", "battery wire", "battery", "load wire",
    "load board", "load".
    fields that do not apply are NaN. limit: sentence naming the limit nearest to being reached, with its use as a share
    in `used` (1 = at the limit). binds: this link is what limits the answer. how: the least certain origin of its constants.
    """

    key: str
    name: str
    p_in: float
    p_out: float
    speed: float = float("nan")  # rad/s on its output side (mechanical links)
    torque: float = float("nan")  # N*m on its output side
    volts: float = float("nan")  # on its output side
    amps: float = float("nan")
    temperature: float = float("nan")  # K
    limit: str = ""
    used: float = float("nan")
    binds: bool = False
    how: str = "computed"

    @property
    def toll(self) -> float:
        """The watts the link keeps for itself."""
        return self.p_in - self.p_out


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """All states of the rig at one cadence, in one gear, with one load (SI floats)."""

    gear: str
    mode: Mode
    w_crank: float
    torque_crank: float
    p_rider: float
    ratio: float
    w_shaft: float
    torque_shaft: float
    emf: float
    i_out: float  # machine amps
    v_machine: float  # at the machine's terminals
    v_bus: float  # at the board's input, or at the battery or load when there is no board
    v_out: float  # after the board
    i_board_out: float  # amps out of the board (or of the machine when there is none)
    p_board_in: float
    p_board_out: float
    i_battery: float  # into the battery; negative when it gives
    p_battery: float
    p_load: float  # watts that reach the appliance itself (0 for a plain charge)
    i_load: float
    served: bool  # the load gets what it asks for
    temperature_winding: float  # K
    temperature_magnet: float  # K


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """Where a rider line meets a load line. kind: "holds", "tips" or "chatters"."""

    kind: str
    w_crank: float
    torque_crank: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossings:
    """Holding and tipping cadences of every gear and draw, arrays of shape (gears, draws); NaN where there is none.

    w_hold: fastest holding point; w_tip: the tipping point next below it;
    mode: Mode at the holding point; served: the load gets what it asks for there; p_*: watts there.
    """

    w_hold: F
    w_tip: F
    mode: NDArray[np.int64]
    served: NDArray[np.bool_]
    p_rider: F
    p_out: F
    p_load: F
    i_out: F
    i_battery: F
    v_bus: F
    v_out: F
    slips: NDArray[np.bool_] | None = None
