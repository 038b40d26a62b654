"""First rides as readings: what the meters show at the first turn, before an edge and before a load drops counts in the fit.

Source: [dc_machine] [constant_power_load]
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sparewatt.physics import machine
from sparewatt.studies.bench.known_machine import ELECTRIC, hot_k, hot_r
from sparewatt.studies.bench.known_others import X, teeth_of
from sparewatt.studies.bench.known_rows import Made, P, Rows

__all__ = ["BUILDS"]

F = NDArray[np.float64]
BY_HAND = 0.08  # of a cadence kept by hand, one turn a second (common practice, no source)


def _first_turn(rows: Rows, made: Made) -> None:
    """Open volts at a hand turn, whichever way round the wires are: the sign is told apart from the fit."""
    teeth = teeth_of(rows)

    def model(p: P, w_c: F, teeth: F, t: F, told: F) -> F:
        return machine.emf(w_c * teeth * p["ratio"], k_emf=hot_k(rows.bench, p, t, told))

    cadence, volts = rows.value("cadence"), np.abs(rows.value("volts"))
    seen = (volts, np.maximum(rows.sd("volts"), 1e-3), rows.gain("volts"))
    unsteady = np.hypot(rows.sd("cadence"), BY_HAND * cadence)
    made.put_gain(rows, "volts")
    x: X = [(cadence, unsteady), (teeth, 0 * teeth)]
    made.put("first_turn", rows, model, seen, x, ["emf_constant", "ratio"], warm=True, shows="volts")


def _before(kind: str, volts: str, amps: str) -> Callable[[Rows, Made], None]:
    """Volts and amps at a cadence, as on any steady ride, read just before something happens."""

    def build(rows: Rows, made: Made) -> None:
        own = rows.only(volts, amps)
        if not own.taken:
            return
        teeth = teeth_of(own)

        def model(p: P, w_c: F, i: F, teeth: F, t: F, told: F) -> F:
            return machine.terminal_voltage(
                w_c * teeth * p["ratio"] * (1 - p["creep"]), i_out=i, k_emf=hot_k(own.bench, p, t, told),
                r_wind=hot_r(p, t, told), v_brush=p["brush_drop"],
            )  # fmt: skip

        x: X = ["cadence", amps, (teeth, 0 * teeth)]
        made.put(kind, own, model, volts, x, [*ELECTRIC, "ratio", "creep"], warm=True)

    return build


BUILDS: dict[str, Callable[[Rows, Made], None]] = {
    "first_turn": _first_turn,
    "edge_ride": _before("edge_ride", "volts", "amps"),
    "load_drop": _before("load_drop", "volts_before", "amps_before"),
}
