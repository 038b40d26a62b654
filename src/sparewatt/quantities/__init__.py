"""Names, units and signs: what every number is called, and how it is read and written."""

from __future__ import annotations

from sparewatt.quantities.q import Q
from sparewatt.quantities.units import (
    BadText,
    Parsed,
    accepted,
    dimension,
    factor,
    natural_unit,
    parse,
    parse_wire_size,
    render,
    render_band,
)

__all__ = [
    "BadText",
    "Parsed",
    "Q",
    "accepted",
    "dimension",
    "factor",
    "natural_unit",
    "parse",
    "parse_wire_size",
    "render",
    "render_band",
]
