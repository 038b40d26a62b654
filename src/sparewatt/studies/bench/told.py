"""What readings say that is no constant of the fit: which way round, who carries what, what an appliance is.

The bounds are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparewatt.studies.bench.known_taken import Taken

__all__ = ["Told", "told_of"]

CELLS_APART = 0.03  # of density, between the best and the weakest cell
HEATER = (5.0, 2000.0)  # ohm across a heater's plug, cold


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One thing that readings say. key: what, in one word; names and values go together. stops: a matter to stop at."""

    key: str
    names: tuple[str, ...] = ()
    values: tuple[float, ...] = ()
    stops: bool = False
    lines: tuple[int, ...] = ()


def told_of(taken: Sequence[Taken]) -> tuple[Told, ...]:
    """All of it, what stops first."""
    used = [t for t in taken if t.used]
    found = [
        *_ways_round(used), *_shares(used), *_appliances(used), *_cells(used), *_warm_boards(used), *_leads(used),
        *_clamps(used),
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda one: not one.stops))


def _of(taken: Sequence[Taken], kind: str) -> list[Taken]:
    return [t for t in taken if t.kind == kind]


def _v(t: Taken, what: str) -> float:
    return float(t.values[what].value[0]) if what in t.values else math.nan


def _ways_round(taken: Sequence[Taken]) -> list[Told]:
    """The sign at the first turn; the last reading counts, since leads are swapped in between."""
    turns = _of(taken, "first_turn")
    if not turns:
        return []
    last = _v(turns[-1], "volts")
    return [
        Told(
            key="wrong_way" if last < 0 else "right_way",
            values=(last,),
            stops=last < 0,
            lines=turns[-1].lines,
        )
    ]


def _shares(taken: Sequence[Taken]) -> list[Told]:
    """Share of each rider in the watts, from the last reading of each."""
    last = {t.part or "the first": t for t in _of(taken, "group_share")}
    watts = {name: _v(t, "volts") * _v(t, "amps") for name, t in last.items()}
    total = sum(watts.values())
    if len(watts) < 2 or total <= 0:
        return []
    lines = tuple(line for t in last.values() for line in t.lines)
    return [
        Told(key="shares", names=tuple(watts), values=tuple(w / total for w in watts.values()), lines=lines)
    ]


def _appliances(taken: Sequence[Taken]) -> list[Told]:
    """What each appliance is, by its looks; whatever is not told for sure stops."""
    found = []
    for t in {t.part: t for t in _of(taken, "appliance_look")}.values():
        kind = _class(t)
        stops = kind not in ("heater", "series motor", "switch-mode supply")
        found.append(
            Told(key="appliance", names=(t.part or "the appliance", kind), stops=stops, lines=t.lines)
        )
    return found


def _class(t: Taken) -> str:
    brushes, dial, iron, capacitor, wide = (
        bool(_v(t, what) == 1) for what in ("brushes", "dial", "iron", "capacitor", "range")
    )
    ohms = _v(t, "ohms")
    if wide and not brushes and not iron:
        return "switch-mode supply"
    if brushes:
        return "motor with a dial or trigger" if dial else "series motor"
    if capacitor:
        return "induction motor"
    if iron:
        return "transformer or induction motor"
    heats = math.isfinite(ohms) and HEATER[0] <= ohms <= HEATER[1] and not dial
    return "heater" if heats else "unknown"


def _cells(taken: Sequence[Taken]) -> list[Told]:
    cells = {t.part or f"{n}": _v(t, "density") for n, t in enumerate(_of(taken, "cell_density"), 1)}
    if len(cells) < 2:
        return []
    apart = max(cells.values()) - min(cells.values())
    weak = min(cells, key=lambda name: cells[name])
    key = "weak_cell" if apart > CELLS_APART else "even_cells"
    lines = tuple(line for t in _of(taken, "cell_density") for line in t.lines)
    return [Told(key=key, names=(weak,), values=(cells[weak], apart), lines=lines)]


def _warm_boards(taken: Sequence[Taken]) -> list[Told]:
    return [
        Told(
            key="warm_board",
            names=(t.part,),
            values=(_v(t, "heat") - _v(t, "air"), _v(t, "heat")),
            lines=t.lines,
        )
        for t in {t.part: t for t in _of(taken, "board_heat")}.values()
    ]


def _leads(taken: Sequence[Taken]) -> list[Told]:
    leads = _of(taken, "lead_ohms")
    if not leads:
        return []
    middle = float(np.median([_v(t, "ohms") for t in leads]))
    return [Told(key="leads", values=(middle,), lines=tuple(line for t in leads for line in t.lines))]


def _clamps(taken: Sequence[Taken]) -> list[Told]:
    """A clamp whose lamp stayed dark as the load dropped."""
    dark = [t for t in _of(taken, "load_drop") if _v(t, "clamp") == 0]
    return [Told(key="dark_clamp", values=(_v(t, "peak_volts"),), lines=t.lines) for t in dark[-1:]]
