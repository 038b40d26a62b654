"""Where a question becomes names and numbers: the rig it is about, who, what, which gear, how hard, how long."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.files import Loaded, read_rig, tried
from sparewatt.parts import Rig
from sparewatt.quantities.units import BadText, parse
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.bind import gear_names

__all__ = ["CHARGE", "Given", "Where", "ask_from", "load_named", "number", "open_place", "rider_named"]

Where = str | Path | Loaded
Given = str | float | None
CHARGE = "charge"
_BARE = {"effort": "W", "cadence": "rpm"}  # what a number without a unit means; a time without one is refused
_UNITS = {"effort": "W", "cadence": "rad/s", "duration": "s"}
_MOST = {"effort": 2500.0, "cadence": 32.0, "duration": 864e3}
_EXAMPLE = {"effort": "100 W", "cadence": "65 rpm", "duration": "2 h or 40 min"}


def open_place(place: Where, changes: Iterable[tuple[str, str]] = ()) -> tuple[Loaded, str]:
    """The rig of a folder, file or what was already read, with changes tried on it, and what to call where it came from."""
    loaded = place if isinstance(place, Loaded) else read_rig(place)
    pairs = [(where.strip(), text.strip()) for where, text in changes]
    return tried(loaded, pairs) if pairs else loaded, str(loaded.path or "")


def number(name: str, given: Given) -> float | None:
    """ "100 W", "65 rpm", "2 h" or a float in SI; refused with what would be accepted."""
    if given is None:
        return None
    if isinstance(given, str):
        text = given.strip()
        if text and text.lstrip("+-").replace(".", "", 1).isdigit() and name in _BARE:
            text = f"{text} {_BARE[name]}"
        try:
            value = parse(text, _UNITS[name]).value
        except BadText as bad:
            raise BadRequest(Problem(name, bad.problem, bad.hint or _EXAMPLE[name], given)) from None
    else:
        value = float(given)
    if not 0 < value <= _MOST[name]:
        raise BadRequest(
            Problem(
                name,
                "this is zero, below zero, or more than any rider or ride has.",
                _EXAMPLE[name],
                str(given),
            )
        )
    return value


def rider_named(rig: Rig, given: str | None) -> str | None:
    """The rider of that name, capitals apart; None when none was asked for."""
    return _named("rider", given, [r.name for r in rig.rider])


def load_named(rig: Rig, given: str | None) -> str | None:
    """The load of that name, or "charge"; None when none was asked for."""
    return _named("load", given, [x.name for x in rig.load] + ([CHARGE] if rig.battery else []))


def _named(kind: str, given: str | None, known: Sequence[str]) -> str | None:
    if given is None or not given.strip():
        return None
    plain = {name.casefold(): name for name in known}
    asked = given.strip().casefold()
    if asked in plain:
        return plain[asked]
    begins = [name for key, name in plain.items() if key.startswith(asked)]
    if len(begins) == 1:
        return begins[0]
    close = difflib.get_close_matches(asked, plain, n=1, cutoff=0.5)
    here = ", ".join(f'"{name}"' for name in known) or "none in the file"
    hint = f'did you mean "{plain[close[0]]}"? {kind}s here: {here}' if close else f"{kind}s here: {here}"
    raise BadRequest(Problem(kind, f'there is no {kind} called "{given}".', hint, given))


def ask_from(
    rig: Rig, *, rider: str | None = None, load: str | None = None, gear: str | None = None, effort: Given = None,
    cadence: Given = None, duration: Given = None, draws: int = 1024,
) -> Ask:  # fmt: skip
    """The full question; every bad word or number in it at once."""
    problems: list[Problem] = []

    def tried_to(read: Any, *args: Any) -> Any:
        try:
            return read(*args)
        except BadRequest as bad:
            problems.extend(bad.problems)
            return None

    who, what = tried_to(rider_named, rig, rider), tried_to(load_named, rig, load)
    which = tried_to(_named, "gear", gear, gear_names(rig))
    watts, pace, time = (
        tried_to(number, n, g) for n, g in (("effort", effort), ("cadence", cadence), ("duration", duration))
    )
    if not 0 <= draws <= 20_000:
        problems.append(
            Problem("draws", "this many draws are not taken.", "a whole number from 0 to 20000", str(draws))
        )
    if problems:
        raise BadRequest(*problems)
    return ask_for(
        rig, rider=who, load=what, gear=which, effort=watts, duration=time, cadence=pace, draws=draws
    )
