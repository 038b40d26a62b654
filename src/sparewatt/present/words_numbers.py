"""Numbers as they are said aloud: rounded to what is known, with the unit behind, bands as "76 to 88"."""

from __future__ import annotations

import math

from sparewatt.present import numbers
from sparewatt.present.numbers import Shown
from sparewatt.rig.outcome import Band

__all__ = [
    "NO_NUMBER", "about", "amount", "and_list", "chance", "clause", "percent", "sentence", "span", "the",
    "time", "time_span",     "turns", "turns_span", "watts", "whole_turns",
]  # fmt: skip

NO_NUMBER = "not known"
MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0


def _plain(shown: Shown) -> str:
    """Digits, an ordinary space, unit: a sentence may be read by a program too."""
    return f"{shown.number} {shown.unit}" if shown.unit else shown.number


def amount(value: float, unit: str, *, inch: bool = False, digits: int = 2) -> str:
    """An SI value in the unit a person would say it in: "15 mohm", "66 W", "40 mm" or "1.6 in"."""
    return (
        _plain(numbers.amount(value, unit, inch=inch, digits=digits)) if math.isfinite(value) else NO_NUMBER
    )


def watts(value: float) -> str:
    """ "66 W"."""
    return amount(value, "W")


def span(band: Band, unit: str, *, inch: bool = False) -> str:
    """A band as "62 to 72 W"; "about 66 W" when there is no band or it is narrower than its digits."""
    if not math.isfinite(band.mid) and not math.isfinite(band.low):
        return NO_NUMBER
    said = _plain(numbers.band(band, unit, inch=inch))
    return said if " to " in said else f"about {said}"


def about(band: Band, unit: str) -> str:
    """The middle of a band with no more digits than the band leaves known: "about 66 W"."""
    if not math.isfinite(band.mid):
        return NO_NUMBER
    shown, whole = numbers.about(band, unit), numbers.amount(band.mid, unit)
    return f"about {_plain(min(shown, whole, key=lambda x: len(x.number)))}"


def turns(w: float) -> str:
    """A crank speed in rad/s as "57 turns a minute"."""
    return f"{whole_turns(w)} turns a minute" if math.isfinite(w) else NO_NUMBER


def whole_turns(w: float) -> str:
    """A crank speed in rad/s as a whole number, without the words."""
    return numbers.rpm(w)


def turns_span(band: Band) -> str:
    """A band of crank speeds as "57 to 61 turns a minute"."""
    if not math.isfinite(band.mid) and not math.isfinite(band.low):
        return NO_NUMBER
    low, high = whole_turns(band.low), whole_turns(band.high)
    return (
        f"about {turns(band.mid)}" if "?" in (low, high) or low == high else f"{low} to {high} turns a minute"
    )


_UNITS = (
    (2 * DAY, DAY, "days"),
    (1.5 * HOUR, HOUR, "hours"),
    (120.0, MINUTE, "minutes"),
    (0.0, 1.0, "seconds"),
)


def time(seconds: float) -> str:
    """A time as it is said: "40 seconds", "7 minutes", "an hour", "2.5 hours", "3 days"."""
    if math.isnan(seconds):
        return NO_NUMBER
    if math.isinf(seconds):
        return "as long as you like"
    if abs(seconds - HOUR) < 0.08 * HOUR:
        return "an hour"
    if abs(seconds - DAY) < 0.04 * DAY:
        return "a day"
    if abs(seconds - HOUR / 2) < 0.04 * HOUR:
        return "half an hour"
    for least, size, many in _UNITS:
        if seconds >= least:
            return (
                f"{_time_number(seconds / size)} {many}"
                if _time_number(seconds / size) != "1"
                else f"1 {many[:-1]}"
            )
    return NO_NUMBER


def _time_number(x: float) -> str:
    if x >= 100:
        return f"{round(x, -1):.0f}"
    if x >= 10:
        return f"{round(x):.0f}" if x < 30 else f"{5 * round(x / 5):.0f}"
    half = round(2 * x) / 2 if x >= 3 else round(x, 1)
    return f"{half:g}"


def time_span(band: Band) -> str:
    """A band of times as "20 to 35 minutes" (one unit for both ends)."""
    low, high = band.low, band.high
    if not math.isfinite(low) or not math.isfinite(high):
        return (
            f"{time(low)} or more"
            if math.isfinite(low)
            else f"about {time(band.mid)}"
            if not math.isnan(band.mid)
            else NO_NUMBER
        )
    if _unit_of_time(low) != _unit_of_time(high) and high > 6 * low:
        return f"{time(low)} to {time(high)}"
    size, many = _unit_of_time(band.mid if math.isfinite(band.mid) else 0.5 * (low + high))
    first, last = _time_number(low / size), _time_number(high / size)
    return f"{first} to {last} {many}" if first != last else f"about {time(band.mid)}"


def _unit_of_time(seconds: float) -> tuple[float, str]:
    return next(((size, many) for least, size, many in _UNITS if seconds >= least), (1.0, "seconds"))


def percent(share: float) -> str:
    """A share as "85 %"."""
    return f"{100 * share:.0f} %" if math.isfinite(share) else NO_NUMBER


def chance(share: float) -> str:
    """A share of draws as "about 7 times in 10"; the ends are never called certain."""
    tenths = min(9, max(1, round(10 * share)))
    return f"about {tenths} {'time' if tenths == 1 else 'times'} in 10"


def and_list(words: list[str] | tuple[str, ...]) -> str:
    """ "a, b and c"."""
    if len(words) <= 1:
        return "".join(words)
    return ", ".join(words[:-1]) + " and " + words[-1]


def clause(text: str) -> str:
    """A cause as it stands inside a sentence: no full stop, no capital unless it is a name."""
    text = text.strip().rstrip(".")
    if text.split(" ", 1)[0].rstrip(",:") in _OPENERS:
        text = text[0].lower() + text[1:]
    return text


# Words that open a sentence and are no names, so that they lose their capital inside one.
_OPENERS = frozenset({
    "A", "An", "At", "Add", "Above", "Below", "By", "Change", "Drop", "Even", "Fit", "For", "From", "Half", "If", "In",
    "It", "Its", "Most", "Nobody", "None",
    "Leave", "Let", "Lower", "No", "Nothing", "Of", "On", "Only", "Over", "Past", "Put", "Raise", "Ride", "Run",
    "Set", "Shed", "Shift", "Something", "Take", "The", "There", "These", "This", "Three", "Through", "Too", "Turn", "Two",
    "Under", "Use", "Wait", "With", "You", "Your",
})  # fmt: skip


def the(name: str) -> str:
    """A part's name inside a sentence, with its article unless it is a name of its own."""
    return name if name[:1].isupper() or name.startswith(("the ", "my ", "our ")) else f"the {name}"


def sentence(text: str) -> str:
    """A clause as a sentence of its own: capital first, full stop last."""
    text = text.strip()
    if not text:
        return ""
    text = text[0].upper() + text[1:]
    return text if text[-1] in ".?!" else text + "."
