"""The numbers one chain is made of, in the order that the plain and the compiled solver read them.

`Params` rows are constants of the electrical side, one column a draw (column 0 is the nominal rig); the mechanical side
is four numbers a gear and draw: speed ratio, torque gain, constant drag and drag slope, all seen at the crank.
"""

from __future__ import annotations

import dataclasses
import enum
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Battery, Converter, Load, Rider, Rig

__all__ = ["Bound", "Hookup", "Kind", "Param", "Stages"]

F = NDArray[np.float64]


class Kind(enum.IntEnum):
    """What stands between the machine's bus and the output, as the solver sees it."""

    NONE = 0
    BUCK = 1
    BOOST = 2
    BUCK_BOOST = 3


class Param(enum.IntEnum):
    """Rows of the parameter table. The demand at the output is i(u) = a + g u + p/u while u is above u_quit."""

    K_EMF = 0  # V*s/rad
    R_SOURCE = 1  # ohm: winding (at its temperature), diode or bridge, wire to the board
    R_SPEED = 2  # ohm per rad/s of shaft: commutation of a three-phase bridge (a drop that makes no heat)
    V_DROP = 3  # V: brushes and diodes
    T_COULOMB = 4  # N*m
    B_VISCOUS = 5  # N*m*s/rad
    HAS_DIODE = 6  # 1 or 0
    KIND = 7  # Kind of the board on the rig
    V_SLEEP = 8  # V at the board's input
    V_LOSS = 9  # V: drop-out of a step-down board, diode of a step-up board
    V_HELD = 10  # V out while the board regulates: set volts, or less at its set amps; a step-up board passes above
    P_HELD = 11  # W the board takes in while it regulates
    I_LIMIT = 12  # A, input-current limit (inf: none)
    LOSS_0 = 13  # W: board's loss = LOSS_0 + LOSS_1 p + LOSS_2 p^2, p the watts out
    LOSS_1 = 14
    LOSS_2 = 15  # 1/W
    A = 16  # A
    G = 17  # S
    P = 18  # W
    U_QUIT = 19  # V
    HAS_STORE = 20  # 1 when a battery holds the output
    U_REST = 21  # V of the output with nothing flowing from the rig
    V_SET = 22  # V, the board's volts screw


@dataclass(frozen=True, slots=True, kw_only=True)
class Hookup:
    """Which parts are joined for one load: the board on the rig, the battery, and the board at the load."""

    load: Load | None  # None: charging only
    board: Converter | None
    battery: Battery | None
    load_board: Converter | None

    @property
    def name(self) -> str:
        """What the question calls it."""
        return "charge" if self.load is None else self.load.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Stages:
    """The drive stage by stage, arrays with a column a draw; used to show the chain, not to solve it."""

    names: tuple[str, ...]
    kinds: tuple[str, ...]
    ratio: F  # (stages, gears, cols): driven turns per driving turn, creep included
    efficiency: F  # (stages, cols)
    drag: F  # (stages, cols) N*m on the driven shaft
    slope: F  # (stages, cols) N*m*s/rad on the driven shaft
    rolling: F  # (stages, cols) N at the surface; already part of `drag`
    surface: F  # (stages, cols) m: radius of the driving surface, NaN where there is none
    grip: F  # (stages, cols) N that may be pulled before it slips, inf where it cannot slip
    how: tuple[str, ...]  # least certain origin of each stage's constants

    def nominal(self) -> Stages:
        """The same steps without their draws."""
        return dataclasses.replace(
            self,
            ratio=self.ratio[..., :1],
            efficiency=self.efficiency[..., :1],
            drag=self.drag[..., :1],
            slope=self.slope[..., :1],
            rolling=self.rolling[..., :1],
            surface=self.surface[..., :1],
            grip=self.grip[..., :1],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """One rig, one load, one rider as numbers: everything the solver needs. cols = draws + 1, column 0 nominal."""

    rig: Rig  # filled in
    hookup: Hookup
    rider: Rider
    gears: tuple[str, ...]
    params: F  # (len(Param), cols)
    ratio: F  # (gears, cols)
    gain: F  # (gears, cols): crank torque per machine torque
    drag: F  # (gears, cols) N*m at the crank
    slope: F  # (gears, cols) N*m*s/rad at the crank
    stages: Stages
    w_top: F  # (cols,) rad/s
    critical_power: F  # (cols,) W
    work_reserve: F  # (cols,) J
    p_peak: F  # (cols,) W
    extras: dict[str, F] = field(
        default_factory=dict
    )  # split of the source and the output, by name, each (cols,)
    scores: dict[str, F] = field(default_factory=dict)  # input key -> standard normal scores (draws,)
    hows: dict[str, str] = field(default_factory=dict)  # input key -> origin
    assumed: tuple[str, ...] = ()  # sentences: what was filled in with a typical value

    @property
    def cols(self) -> int:
        """Columns: draws + 1."""
        return int(self.params.shape[1])

    def nominal(self) -> Bound:
        """The same rig without its draws."""

        def cut(x: F) -> F:
            return np.ascontiguousarray(x[..., :1])

        return dataclasses.replace(
            self,
            params=cut(self.params),
            ratio=cut(self.ratio),
            gain=cut(self.gain),
            drag=cut(self.drag),
            slope=cut(self.slope),
            stages=self.stages.nominal(),
            w_top=cut(self.w_top),
            critical_power=cut(self.critical_power),
            work_reserve=cut(self.work_reserve),
            p_peak=cut(self.p_peak),
            extras={key: cut(column) for key, column in self.extras.items()},
            scores={},
        )
