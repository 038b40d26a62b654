"""Numbers and names as the templates say them. All rounding is in `present.numbers`; this only picks and wraps."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from markupsafe import Markup

from sparewatt.parts import Measured
from sparewatt.present import numbers
from sparewatt.rig.outcome import Band

__all__ = ["headline", "plain", "say", "share", "tied", "turns", "verdict_class", "without"]

_LOOSE = re.compile(r"(?<=\d) (?=(?:k?W|V|m?A|A?h|k?Wh|kcal|[mc]?m[23²³]?|m?ohm|in|s|min|Ah|%)(?!\w))")
_SENTENCE = re.compile(r"(?<=[.?!]) (?=[A-Z0-9])")
_SHOWN_AS = {"wire_size": "m^2"}  # read as a gauge or an area, shown as an area
_CLASSES = {"not by legs": "no", "stop": "no", "hard work": "hard", "look again": "hard"}


def say(value: Band | Measured | float | None, unit: str, *, inch: bool = False, digits: int = 2) -> Markup:
    """A number with its unit, in the look that says how it is known; empty when there is none."""
    shown = _shown(value, unit, inch, digits)
    return _span(shown) if shown is not None else Markup("")


def plain(value: Band | Measured | float | None, unit: str, *, inch: bool = False, digits: int = 2) -> str:
    """The same as text without mark-up, for titles, options and boxes."""
    shown = _shown(value, unit, inch, digits)
    return shown.text if shown is not None else ""


def turns(value: Band | float) -> Markup:
    """A cadence without the words "turns a minute", for a column whose head says them."""
    shown = _shown(value, "rad/s", False, 2)
    if shown is None:
        return Markup("")
    return _span(numbers.Shown(shown.number, "", shown.look))


def share(value: float) -> str:
    """A share of one in per cent."""
    return "" if not math.isfinite(value) else numbers.amount(value, "%").text


def tied(text: str) -> str:
    """The same words with each number kept on one line with its unit, and squares written as squares."""
    return _LOOSE.sub("\u00a0", numbers.raised(text))


def headline(text: str, said: Iterable[str] = (), most: int = 40) -> tuple[str, str]:
    """The sentences of an answer that may be said large (as many as make 40 words, at least one), and the rest.

    said: texts that stand on the page too; what they say is left out of the rest.
    """
    sentences = _SENTENCE.split(text)
    large, words = 0, 0
    for one in sentences:
        words += len(one.split())
        if large and words > most:
            break
        large += 1
    return tied(" ".join(sentences[:large])), tied(without(" ".join(sentences[large:]), said))


def without(text: str, said: Iterable[str]) -> str:
    """The sentences of a text that do not stand in `said`."""
    said = list(said)
    left = [one for one in _SENTENCE.split(text) if not any(one in other for other in said)]
    return " ".join(left)


def verdict_class(verdict: str | None) -> str:
    """How the ruled box of a verdict is drawn; the word itself always stands in it."""
    return _CLASSES.get(verdict or "", "")


def _span(shown: numbers.Shown) -> Markup:
    return Markup(numbers.html(shown))  # noqa: S704  (numbers.html escapes what it wraps)


def _shown(value: Band | Measured | float | None, unit: str, inch: bool, digits: int) -> numbers.Shown | None:
    unit = _SHOWN_AS.get(unit, unit)
    if isinstance(value, Band):
        return (
            numbers.band(value, unit, inch=inch)
            if math.isfinite(value.mid) or math.isinf(value.mid)
            else None
        )
    if isinstance(value, Measured):
        return numbers.known(value, unit, inch=inch)
    if value is None or math.isnan(value):
        return None
    return numbers.amount(value, unit, inch=inch, digits=digits)
