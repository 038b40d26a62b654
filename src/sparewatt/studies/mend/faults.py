"""What can be wrong with the rig itself: each cause as a small change of its numbers, of one unknown size.

Sizes and odds are common practice, no source. A size is drawn from its prior: middle*exp(wide*score), or the same of the
odds where it is a share. A cause may have several ways to be; they share its odds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.language.moment import Moment
from sparewatt.parts import Battery
from sparewatt.parts.records import BELTS
from sparewatt.physics import store
from sparewatt.rig.layout import Bound, Kind, Param
from sparewatt.studies.mend.show import Numbers
from sparewatt.studies.mend.tables import Tables

__all__ = ["Fault", "Scale", "body_faults", "healthy", "scale_of", "slipping"]

F = NDArray[np.float64]
On = NDArray[np.int64]
Change = Callable[[Numbers, int, On, F], None]
SLIPS = ("roller", "rim_wheel", *(belt for belt in BELTS if belt != "toothed_belt"))
LEAD = ("flooded", "agm", "gel")
CELL = {"lifepo4": 3.3, "lithium_other": 3.7}  # V of a cell; lead-acid 2.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One way in which one thing can be wrong.

    weight: odds against other causes. middle, wide, share: prior of its size. change: what it does to the numbers of the
    rig; meters: to what is shown. since: it came after the moments marked fine. only: moments it touches, () all.
    gears: (noted, ridden) where another gear was ridden. number: key in the rig file and its value, where that is wrong;
    power: the size to that power times the value would fit. stray: factor by which the noted cadence is off.
    """

    key: str
    name: str
    says: str
    weight: float
    way: str = ""
    middle: float = 1.0
    wide: float = 0.0
    share: bool = False
    change: Change | None = None
    meters: Change | None = None
    since: bool = True
    only: tuple[int, ...] = ()
    gears: tuple[int, int] | None = None
    unit: str = ""
    number: tuple[str, float, str] | None = None
    power: float = 1.0
    stray: float = 1.0
    stops: bool = False

    def size(self, score: F) -> F:
        """Size at a standard normal score of its prior."""
        if self.share:
            odds = self.middle / (1 - self.middle) * np.exp(self.wide * score)
            return np.asarray(odds / (1 + odds))
        return np.asarray(self.middle * np.exp(self.wide * score))

    @property
    def starts(self) -> tuple[float, ...]:
        """Scores to start the search from."""
        return (-1.3, 0.0, 1.3) if self.wide > 0.1 else (0.0,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """What is much and little on this rig: volts and amps at work (machine side), ohms that matter, pull at the crank."""

    volts: float
    amps: float
    ohms: float
    pull: float


def healthy() -> Fault:
    """Nothing is wrong."""
    return Fault(
        key="normal", name="nothing is wrong", weight=35.0, since=False,
        says="All readings lie where the rig file puts them, as closely as it is known.",
    )  # fmt: skip


def scale_of(tables: Tables, moments: Sequence[Moment], effort: float) -> Scale:
    """Sizes to measure faults by."""
    bound = tables.bounds[0]
    rest = float(bound.params[Param.U_REST, 0])
    volts = max(rest, float(bound.params[Param.V_SET, 0]) if bound.hookup.board is None else 0.0, 5.0)
    if bound.hookup.board is not None and bound.params[Param.KIND, 0] != Kind.NONE:
        read = [m.volts for m in moments if m.volts > 1 and m.joined == "load"]
        k_n = float(bound.params[Param.K_EMF, 0] * bound.ratio[int(tables.gear[0]), 0])
        volts = float(np.median(read)) if read else 0.8 * k_n * float(np.median(tables.cadence))
    amps = max(0.6 * effort / volts, 0.2)
    liked = bound.rider.cadence.value if bound.rider.cadence is not None else 6.8
    return Scale(volts=volts, amps=amps, ohms=volts / amps, pull=effort / liked)


def slipping(bound: Bound) -> str:
    """Names of the steps of the drive that can slip, "" when none can."""
    names = [name for name, kind in zip(bound.stages.names, bound.stages.kinds, strict=True) if kind in SLIPS]
    return " or ".join(names)


def _add(name: str, scale: float = 1.0) -> Change:
    def change(x: Numbers, h: int, on: On, s: F) -> None:
        x[name][h, on] += scale * s

    return change


def _times(*names: str) -> Change:
    def change(x: Numbers, h: int, on: On, s: F) -> None:
        for name in names:
            x[name][h, on] *= s

    return change


def _set(name: str) -> Change:
    def change(x: Numbers, h: int, on: On, s: F) -> None:
        x[name][h, on] = 1.0

    return change


def body_faults(tables: Tables, scale: Scale) -> Iterator[Fault]:
    """What can be wrong with drive, machine, line, board, battery and rider."""
    bound = tables.bounds[0]
    yield from _drive(bound, scale)
    yield from _machine(bound, scale)
    yield from _line(bound, scale)
    if bound.hookup.board is not None:
        yield from _board(tables, scale)
    if bound.hookup.battery is not None:
        yield from _battery(bound.hookup.battery, scale)
    yield Fault(
        key="tired_rider", name="the rider is tired", weight=4.0, middle=0.65, wide=0.5, share=True, unit="1",
        says="The rig does what it should for the push it gets; the legs give less than they usually do. "
        "Rest, eat and drink before you judge the rig.",
        change=_times("legs"),
    )  # fmt: skip


def _drive(bound: Bound, scale: Scale) -> Iterator[Fault]:
    names = slipping(bound)
    if names:
        yield Fault(
            key="slip", name=f"the {names} slips", weight=3.0, middle=0.13, wide=0.8, share=True, unit="1",
            says="The machine turns slower than the crank asks of it, and more so the harder you push.",
            change=_add("slip"),
        )  # fmt: skip
    yield Fault(
        key="drag", name="something rubs", weight=1.8, middle=0.25, wide=0.6, unit="1",
        says="A brake, a dry bearing or a belt that is too tight takes part of each push before it reaches the machine.",
        change=_add("drag", scale.pull),
    )  # fmt: skip


def _machine(bound: Bound, scale: Scale) -> Iterator[Fault]:
    machine = bound.rig.machine
    assert machine is not None and machine.emf_constant is not None
    yield Fault(
        key="hot_copper", name="the machine is hot", weight=3.0, middle=60.0, wide=0.5, unit="K",
        says="Hot copper keeps more volts for itself and hot magnets make fewer; both come back as it cools.",
        change=_add("hotter"),
    )  # fmt: skip
    yield Fault(
        key="weak_magnet", name="the magnets are weak", weight=0.8, middle=0.18, wide=0.7, share=True, unit="1",
        says="It makes fewer volts at the same speed, with the copper unchanged: magnets lose strength for good by "
        "heat, by a knock or by far too many amps.",
        change=lambda x, h, on, s: _weaken(x, h, on, s),
    )  # fmt: skip
    if machine.kind == "pm_dc":
        yield Fault(
            key="worn_brush", name="the brushes are worn or dirty", weight=1.5, wide=0.6, unit="V",
            says="Volts go missing at the brushes, about as many at few amps as at many.",
            middle=0.13 * scale.volts, change=_add("v_add"),
        )  # fmt: skip
    yield Fault(
        key="wrong_winding", name="the machine is not the one in the rig file", weight=0.8, wide=0.4, since=False,
        says="It makes other volts at the same speed, and its winding has other ohms: another machine, or another winding.",
        change=lambda x, h, on, s: _rewind(x, h, on, s), unit="1",
        number=("machine.emf_constant", machine.emf_constant.value, "V*s/rad"),
    )  # fmt: skip


def _weaken(x: Numbers, h: int, on: On, s: F) -> None:
    x["k"][h, on] *= 1 - s


def _rewind(x: Numbers, h: int, on: On, s: F) -> None:
    x["k"][h, on] *= s
    x["r_wind"][h, on] *= s**2


def _line(bound: Bound, scale: Scale) -> Iterator[Fault]:
    board, battery = bound.hookup.board is not None, bound.hookup.battery is not None
    says = "A clip, a screw or a joint keeps volts for itself, more the more amps flow; it may come and go and get warm."
    ways = [
        ("between the machine and the board" if board else "between the machine and what it feeds", "r_add")
    ]
    if board and battery:
        ways.append(("between the board and the battery", "r_bwire"))
    volts_out = max(float(bound.params[Param.U_REST, 0]), float(bound.params[Param.V_SET, 0]), 5.0)
    for way, row in ways:
        ohms = scale.ohms if row == "r_add" else volts_out * volts_out / (scale.volts * scale.amps)
        yield Fault(
            key="loose_contact", name="a contact is loose", weight=2.5 / len(ways), way=way, says=says, unit="ohm",
            middle=0.15 * ohms, wide=0.8, change=_add(row),
        )  # fmt: skip
    diode = bound.rig.diode
    bridge = bound.rig.machine is not None and bound.rig.machine.kind in ("pm_three_phase", "alternator")
    if (diode is None or diode.kind == "none") and not bridge:
        yield Fault(
            key="open_line", name="the line is open", weight=1.0, change=_set("shut"),
            says="A wire is off, a switch is open or the rig's own fuse has blown: the machine makes volts, nothing flows.",
        )  # fmt: skip
        return
    direct = battery and not board and not bridge
    name = "the diode is open" if direct else "the diode is open or sits the wrong way round"
    yield Fault(
        key="open_diode", name=name, weight=1.2, change=_set("shut"),
        says="The machine makes volts and nothing gets past the diode (or a wire beside it).",
    )  # fmt: skip
    if direct:
        yield Fault(
            key="reversed_diode", name="the diode sits the wrong way round", weight=0.8, change=_set("backward"), stops=True,
            says="It lets the battery drive the machine and lets nothing come back: unhook the battery before you look.",
        )  # fmt: skip


def _board(tables: Tables, scale: Scale) -> Iterator[Fault]:
    board = tables.bounds[0].hookup.board
    assert board is not None
    yield Fault(
        key="board_limit", name=f"the {board.name} takes in fewer amps than you think", weight=1.5, unit="A",
        middle=0.75 * scale.amps, wide=0.45, since=False,
        says="Above a few amps in it gives no more, whatever is printed on it.",
        change=lambda x, h, on, s: _limit(x, h, on, s),
    )  # fmt: skip
    weight = 1.2 if board.kind == "boost" else 0.5
    yield Fault(
        key="passes_through", name=f"the {board.name} passes the volts straight through", weight=weight,
        says="What goes in comes out: the board holds back nothing, so its settings do nothing and the volts may climb.",
        change=_set("through"), stops=True,
    )  # fmt: skip


def _limit(x: Numbers, h: int, on: On, s: F) -> None:
    x["i_limit"][h, on] = np.minimum(x["i_limit"][h, on], s)


def _battery(battery: Battery, scale: Scale) -> Iterator[Fault]:
    assert battery.voltage is not None
    volts, kind = battery.voltage.value, battery.chemistry or "flooded"
    ohms = volts * volts / (scale.volts * scale.amps)
    yield Fault(
        key="battery_resistance", name="the battery is worn: sulphated or dry", weight=1.8, unit="ohm",
        middle=0.12 * ohms, wide=0.7, change=_add("r_cell"),
        says="Its volts run up as soon as amps go in and fall away as soon as amps come out.",
    )  # fmt: skip
    full = 0.10 if kind in LEAD else 0.05
    yield Fault(
        key="battery_full", name="the battery is full", weight=1.5, middle=full * volts, wide=0.35, unit="V",
        says="Its volts stand high and it takes little, however hard you push.",
        change=lambda x, h, on, s: _fuller(x, h, on, s, 0.03 * ohms),
    )  # fmt: skip
    if float(store.cells_in_series(volts, chemistry=kind)) > 1:
        yield Fault(
            key="battery_cell", name="a cell of the battery has died", weight=0.7, middle=CELL.get(kind, 2.05), wide=0.08,
            says="Its volts are lower by those of one cell, at rest and at work.", unit="V",
            change=lambda x, h, on, s: _fuller(x, h, on, -s, 0.0), stops=True,
        )  # fmt: skip


def _fuller(x: Numbers, h: int, on: On, s: F, ohms: float) -> None:
    x["v_back"][h, on] += s
    x["v_open"][h, on] += s
    x["r_cell"][h, on] += ohms
