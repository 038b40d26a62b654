"""How guard says things: findings, sizes, and numbers as people say them."""

from __future__ import annotations

import math

from sparewatt.parts import Measured
from sparewatt.quantities.units import natural_unit, render
from sparewatt.rig.operating import RPM
from sparewatt.studies.answers import Finding, Sized

__all__ = ["PRACTICE", "energy", "finding", "listed", "number", "sized", "soon", "spell", "turns", "value"]

NAN = math.nan
PRACTICE = "common practice, no source"


def value(known: Measured | None, default: float = NAN) -> float:
    """The number of a constant; `default` (NaN) where there is none."""
    return default if known is None else known.value


def finding(
    key: str,
    title: str,
    check: str,
    says: str,
    do: str,
    *,
    at: tuple[str, ...],
    severity: int,
    source: str = PRACTICE,
    found: float = NAN,
    threshold: float = NAN,
    unit: str = "",
    seconds: str = "",
    load: str = "",
) -> Finding:
    """One finding. seconds: words of the scene that shows it; load: the one load it is about."""
    return Finding(
        key=key,
        title=title,
        check=check,
        says=says,
        do=do,
        value=float(found),
        threshold=float(threshold),
        unit=unit,
        source=source,
        at=("guard", *at),
        severity=severity,
        seconds=seconds,
        load=load,
    )


def number(amount: float, unit: str, digits: int = 2) -> str:
    """An amount for a sentence, in a unit people say: "43 V", "5.1 A", "15 mohm"."""
    if unit == "%":
        return f"{_sig(100 * amount, digits)} %"
    if (unit in ("V", "W", "N", "A") and abs(amount) >= 10**digits) or (
        unit == "V" and 10 <= abs(amount) < 20
    ):
        digits = 3
    return render(amount, natural_unit(amount, unit), digits)


def energy(joules: float) -> str:
    """Joules as "266 J" or "3.5 kJ"."""
    return f"{_sig(joules / 1000, 2)} kJ" if joules >= 1000 else f"{_sig(joules, 3)} J"


def turns(w: float) -> str:
    """A crank or shaft speed as "60 turns a minute"."""
    return f"{w / RPM:.0f} turns a minute"


def spell(seconds: float) -> str:
    """A time as "17 minutes" or "2.2 hours"."""
    if not math.isfinite(seconds):
        return "no time that matters"
    if seconds < 120:
        return f"{_sig(seconds, 2)} seconds"
    if seconds < 5400:
        return f"{_sig(seconds / 60, 2)} minutes"
    return f"{_sig(seconds / 3600, 2)} hours" if seconds < 3 * 86400 else f"{_sig(seconds / 86400, 2)} days"


def soon(seconds: float) -> str:
    """How soon something happens: "at once", "within a tenth of a second", "in 0.4 seconds"."""
    if seconds < 0.03:
        return "at once"
    return "within a tenth of a second" if seconds < 0.1 else f"in {spell(seconds)}"


def listed(items: list[str]) -> str:
    """Items as "a, b and c"."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"


def _sig(x: float, digits: int) -> str:
    if x == 0 or not math.isfinite(x):
        return f"{x:g}"
    places = digits - 1 - math.floor(math.log10(abs(x)))
    return f"{round(x, places):.{max(0, places)}f}" if abs(x) < 1e9 else f"{x:.{digits - 1}e}"


def sized(
    what: str, need: float, have: float, unit: str, check: str, pick: str, why: str, source: str = PRACTICE
) -> Sized:
    """One size."""
    return Sized(
        what=what,
        need=float(need),
        have=float(have),
        unit=unit,
        check=check,
        pick=pick,
        why=why,
        source=source,
    )
