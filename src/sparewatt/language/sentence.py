"""Reads the one sentence a person starts with: what to run, who rides, what the motor's label says.

No grammar, and nothing learnt: numbers with units, known words, and which stands next to which. It keeps what it understood
and what it could not use, so that both can be said back.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.anchors import Anchor, Quantity, anchors_in, plain_text, quantities_in
from sparewatt.language.vocabulary import Thing, vocabulary

__all__ = ["LONGEST", "Heard", "HeardLoad", "read_sentence"]

LONGEST = 2000  # letters; more is not a sentence
_STOPS = re.compile(r"[;!?\n]|\.(?![0-9])")
_CUTS = re.compile(r",(?![0-9])|\b(?:and|then|but|plus|or|while|because|so that)\b")


# "a sewing machine, 90 W universal motor": what is inside the thing to run, not the machine on the heap
_TOOL_INSIDE = re.compile(
    r"((?:sewing machine|drill|grinder|saw|sander|mixer|blender|vacuum(?: cleaner)?|planer|router)\b[^.;]{0,40}?)"
    r"\b(?:universal|brushed(?: ac)?) motor\b"
)


@dataclass
class HeardLoad:
    """One thing to run, as heard."""

    thing: Thing | None  # None: not a word that is known
    name: str
    count: int = 1
    fields: dict[str, str] = field(default_factory=dict)


@dataclass
class Heard:
    """Everything understood, as rig-file texts, and what was left over."""

    loads: list[HeardLoad] = field(default_factory=list)
    charge: bool = False
    battery: dict[str, str] = field(default_factory=dict)
    machine: Anchor | None = None
    plate: dict[str, str] = field(default_factory=dict)
    rider: dict[str, str] = field(default_factory=dict)
    ride: dict[str, str] = field(default_factory=dict)
    drive: dict[str, str] = field(default_factory=dict)
    board: dict[str, str] = field(default_factory=dict)
    place: dict[str, str] = field(default_factory=dict)
    ill: list[str] = field(default_factory=list)  # the words of illness, as said
    people: int = 1
    mains: float = 0.0
    unused: list[str] = field(default_factory=list)


def read_sentence(text: str) -> Heard:
    """What the sentence says; raises BadRequest when it names nothing to run or to charge."""
    if len(text) > LONGEST:
        raise BadRequest(
            Problem(
                "sentence",
                f"this is {len(text)} letters long",
                f"say it in less than {LONGEST}",
                text[:40] + "...",
            )
        )
    plain = _TOOL_INSIDE.sub(
        lambda m: m.group(1) + " " * (len(m.group()) - len(m.group(1))), plain_text(text)
    )
    quantities = quantities_in(plain)
    anchors = anchors_in(plain, quantities)
    heard = Heard()
    pairs, left = _join(plain, [q for q in quantities if q.unit != "people"], anchors)
    for anchor in anchors:
        _hear_anchor(heard, anchor, plain, quantities)
    for quantity, anchor in pairs:
        if not _hear_quantity(heard, quantity, anchor):
            left.append(quantity)
    _hear_rider(heard, plain)
    _hear_strange(heard, plain, anchors, left)
    _hear_effort(heard, left)
    if not heard.loads and not heard.charge:
        raise BadRequest(
            Problem(
                "sentence", "nothing to run and nothing to charge was found in it",
                'name a thing and who rides: "run a 10 W lamp and charge a phone; I am 34 and fairly fit"',
                text.strip()[:60],
            )
        )  # fmt: skip
    names = {word for load in heard.loads if load.thing is None for word in load.name.split()}
    heard.unused = [word for word in _leftovers(plain, quantities, anchors, left) if word not in names]
    return heard


# ---- which number belongs to which word ----


def _join(
    plain: str, quantities: list[Quantity], anchors: list[Anchor]
) -> tuple[list[tuple[Quantity, Anchor]], list[Quantity]]:
    """Pairs of number and word, and the numbers that found no word."""
    pairs: list[tuple[Quantity, Anchor]] = []
    left: list[Quantity] = []
    last: Anchor | None = None
    waiting: list[Quantity] = []
    for start, end, stops in _segments(plain):
        words = [a for a in anchors if start <= a.start < end]
        runs = _runs(plain, [q for q in quantities if start <= q.start < end], words)
        if words and waiting:
            found = next((a for a in words if all(a.takes(q.unit) for q in waiting)), None)
            _settle(waiting, found, anchors, pairs, left)
            waiting = []
        for run in runs:
            target = _target(plain, run, runs, words) or (last if not words else None)
            if target is None and not words and not stops:
                waiting.extend(run)
            else:
                _settle(run, target, anchors, pairs, left)
        taking = [a for a in words if a.kind != "rider"]
        last = taking[-1] if taking else last
        if stops:
            _settle(waiting, None, anchors, pairs, left)
            waiting, last = [], None
    return pairs, left


def _settle(
    run: list[Quantity],
    target: Anchor | None,
    anchors: list[Anchor],
    pairs: list[tuple[Quantity, Anchor]],
    left: list[Quantity],
) -> None:
    """Gives each number to the target if it takes that unit, else to the one part that can have it, else to nobody."""
    for q in run:
        fits = target if target is not None and target.takes(q.unit) else _by_unit(q, anchors)
        if fits is not None:
            pairs.append((q, fits))
        else:
            left.append(q)


def _segments(plain: str) -> list[tuple[int, int, bool]]:
    """Pieces of the sentence between commas and "and"; the flag says that a full stop or semicolon follows."""
    cuts = [(m.start(), m.end(), False) for m in _CUTS.finditer(plain)] + [
        (m.start(), m.end(), True) for m in _STOPS.finditer(plain)
    ]
    pieces, at = [], 0
    for start, end, stops in [*sorted(cuts), (len(plain), len(plain), True)]:
        if start >= at:
            pieces.append((at, start, stops))
            at = end
    return pieces


def _runs(plain: str, quantities: list[Quantity], words: list[Anchor]) -> list[list[Quantity]]:
    """Numbers that stand side by side with no word between and no unit twice."""
    runs: list[list[Quantity]] = []
    for q in quantities:
        gap = plain[runs[-1][-1].end : q.start] if runs else ""
        joined = runs and not re.search(r"[a-z]{2}", gap) and all(x.unit != q.unit for x in runs[-1])
        if joined and not any(runs[-1][-1].end <= a.start < q.start for a in words):
            runs[-1].append(q)
        else:
            runs.append([q])
    return runs


def _target(
    plain: str, run: list[Quantity], runs: list[list[Quantity]], words: list[Anchor]
) -> Anchor | None:
    """The word in this piece that the numbers belong to: right behind them, or before with only a link between."""
    able = [a for a in words if any(a.takes(q.unit) for q in run)]
    if not able:
        return None
    noun_first = words[0].start < runs[0][0].start and words[-1].start < runs[-1][0].start

    def cost(a: Anchor) -> float:
        fits = 3.0 * sum(not a.takes(q.unit) for q in run)
        if a.start >= run[-1].end:
            return fits + _between(plain[run[-1].end : a.start]) + (0.6 if noun_first else 0.0)
        return fits + _between(plain[a.end : run[0].start]) + (0.0 if noun_first else 0.5)

    return min(able, key=cost)


def _between(gap: str) -> float:
    return float(sum(word not in vocabulary().links for word in re.findall(r"[a-z]+", gap)))


def _by_unit(q: Quantity, anchors: list[Anchor]) -> Anchor | None:
    """The one sort of part that this unit can belong to, when the words beside it do not take it."""
    wanted = {
        "Ah": "battery",
        "hp": "machine",
        "rpm": "machine",
        "years": "rider",
        "kg": "rider",
        "m3": "place",
        "teeth": "drive",
        "pair": "drive",
        "ratio": "drive",
    }
    kind = wanted.get(q.unit)
    if q.unit == "rpm" and q.value <= 200:
        kind = "rider"
    if q.unit in ("h", "min"):
        kind = "effort"
    if kind is None:
        return None
    return next((a for a in anchors if a.kind == kind), Anchor(kind, "", q.start, q.start))


# ---- taking it in ----


def _hear_anchor(heard: Heard, anchor: Anchor, plain: str, quantities: list[Quantity]) -> None:
    if anchor.kind == "load":
        assert anchor.thing is not None
        count = _count_before(anchor, plain, quantities)
        same = next((x for x in heard.loads if x.thing is anchor.thing), None)
        if same is None:
            heard.loads.append(HeardLoad(anchor.thing, anchor.thing.name, count))
        else:
            same.count = max(same.count, count)
    elif anchor.kind == "battery":
        heard.charge = True
        if re.search(r"lithium|lifepo|lfp", plain):
            heard.battery["chemistry"] = "lifepo4"
        elif re.search(r"sealed|agm|gel\b|alarm battery|ups battery", plain):
            heard.battery["chemistry"] = "agm"
    elif anchor.kind == "machine":
        heard.machine = heard.machine or anchor
    elif anchor.kind == "board":
        heard.board.setdefault("kind", anchor.key)
    elif anchor.kind == "drive":
        heard.drive.setdefault("words", "")
        heard.drive["words"] = f"{heard.drive['words']} {anchor.key}".strip()
    elif anchor.kind == "place":
        heard.place.setdefault(anchor.key, "true")
    elif anchor.kind == "ill":
        heard.ill.append(anchor.key)
        heard.rider["fitness"] = "unwell"


def _count_before(anchor: Anchor, plain: str, quantities: list[Quantity]) -> int:
    """How many of them: the number word or bare number in front of the word, or in front of its own watts."""
    at = anchor.start
    for q in reversed(quantities):
        if q.end <= at and not re.search(r"[a-z]{2}", plain[q.end : at]):
            at = q.start
    found = re.search(
        r"\b([0-9]{1,2}|[a-z]+(?: (?:of|dozen|few|couple))*)\s*(?:x|\*|of (?:our|my|the)|my|our|the)?\s*$",
        plain[:at],
    )
    if not found:
        return 1
    word = found.group(1)
    return (
        int(word)
        if word.isdigit() and int(word) > 0
        else vocabulary().counts.get(word, vocabulary().counts.get(word.split()[-1], 1))
    )


def _hear_quantity(heard: Heard, q: Quantity, anchor: Anchor) -> bool:
    """Puts one number where it belongs; False when that place is taken or does not exist."""
    if (
        q.unit == "V"
        and q.value in (100, 110, 115, 120, 127, 220, 230, 240)
        and anchor.kind in ("load", "place", "rider")
    ):
        heard.mains = q.value
    table, names = _place_for(heard, anchor)
    if table is None:
        return False
    name = names.get(q.unit, "")
    if q.unit == "rpm" and anchor.kind in ("rider", "effort") and q.value <= 200:
        table, name = heard.ride, "cadence"
    if not name or name in table:
        return False
    table[name] = q.text
    return True


_MACHINE = {
    "V": "plate_voltage", "A": "plate_current", "W": "plate_power", "hp": "plate_power", "rpm": "plate_speed",
    "ohm": "resistance", "kg": "mass",
}  # fmt: skip
_RIDER = {"years": "age", "kg": "mass"}
_EFFORT = {"W": "effort", "rpm": "cadence", "h": "duration", "min": "duration"}


def _place_for(heard: Heard, anchor: Anchor) -> tuple[dict[str, str] | None, dict[str, str]]:
    if anchor.kind == "load":
        load = next((x for x in heard.loads if x.thing is anchor.thing), None)
        names = {"V": "voltage", "A": "current", "W": "power", "hp": "power", "Wh": "energy_per_use", "h": "use_time",
                 "min": "use_time", "ohm": "winding_resistance"}  # fmt: skip
        return (load.fields if load else None), names
    if anchor.kind == "drive":
        key = anchor.key
        return heard.drive, {
            "length": f"{key}_size",
            "teeth": f"{key}_teeth",
            "pair": "teeth",
            "ratio": "ratio",
        }
    tables = {
        "battery": (heard.battery, {"V": "voltage", "Ah": "capacity", "Wh": "energy", "A": "charge_current"}),
        "machine": (heard.plate, _MACHINE),
        "rider": (heard.rider, _RIDER),
        "effort": (heard.ride, _EFFORT),
        "board": (heard.board, {"A": "input_current", "V": "set_voltage", "W": "power_rating"}),
        "place": (heard.place, {"m3": "volume"}),
    }
    if anchor.kind == "fuse":
        return heard.place, {"A": "fuse"}
    table, names = tables.get(anchor.kind, (None, {}))
    if anchor.kind == "battery":
        heard.charge = True
    return table, names


def _hear_rider(heard: Heard, plain: str) -> None:
    """Fitness, arms or legs, and who it is, from words alone."""
    for words, fitness in vocabulary().fitness:
        if re.search(words, plain):
            heard.rider.setdefault("fitness", fitness)
            break
    if re.search(
        r"\bhand[- ]?crank\w*|\barm[- ]crank\w*|\b(?:by|with|my) (?:hand|arms?|hands)\b|\barms\b", plain
    ):
        heard.rider["uses"] = "arms"
    bare = re.search(r"(?:^|[,;.])\s*([5-9]|[1-9][0-9])\s*(?=[,;.]|$)", plain)
    if bare and "age" not in heard.rider and re.search(r"\b(?:i|me|my|our|he|she)\b", plain):
        heard.rider["age"] = bare.group(1)
    for person in vocabulary().people:
        if re.search(person.words, plain) and not re.search(r"\bi(?: am|'m)\b", plain):
            heard.rider.setdefault("name", person.name)
            heard.rider.setdefault("age", f"{person.age:g}")
    for words, years in vocabulary().ages:
        if re.search(rf"\b(?:{words})\b", plain):
            heard.rider.setdefault("age", f"{years:g}")
    counted = re.search(
        r"\b(two|three|four|five|six|seven|eight|nine|ten|[2-9]|1[0-9]) (?:of us|riders|people|adults|friends|persons)\b",
        plain,
    )
    if counted:
        heard.people = vocabulary().counts.get(counted.group(1)) or int(counted.group(1))


# ---- what it did not know ----


def _hear_strange(heard: Heard, plain: str, anchors: list[Anchor], left: list[Quantity]) -> None:
    """A thing that is no known word but has watts beside it is kept under its own name."""
    for q in list(left):
        if q.unit != "W":
            continue
        after = re.match(r"\s*((?:[a-z][a-z'-]+ ?){1,2})", plain[q.end :])
        words = [w for w in (after.group(1).split() if after else []) if w not in vocabulary().not_names]
        if not words or any(
            a.start < q.end + (after.end() if after else 0) and a.end > q.end for a in anchors
        ):
            continue
        load = HeardLoad(None, " ".join(words), 1, {"power": q.text})
        volts = next((v for v in left if v.unit == "V" and abs(v.end - q.start) < 4), None)
        if volts is not None:
            load.fields["voltage"] = volts.text
            left.remove(volts)
        left.remove(q)
        heard.loads.append(load)


def _hear_effort(heard: Heard, left: list[Quantity]) -> None:
    """Watts that belong to no thing, where everything to run has its own, are what the rider gives."""
    free = [q for q in left if q.unit == "W" and 20 <= q.value <= 1000]
    if free and "effort" not in heard.ride and all("power" in x.fields for x in heard.loads):
        heard.ride["effort"] = free[0].text
        left.remove(free[0])


def _about_riders(word: str) -> bool:
    fit = any(re.fullmatch(words, word) for words, _means in vocabulary().fitness)
    aged = any(re.fullmatch(words, word) for words, _years in vocabulary().ages)
    return fit or aged or any(re.search(person.words, word) for person in vocabulary().people)


def _leftovers(
    plain: str, quantities: list[Quantity], anchors: list[Anchor], left: list[Quantity]
) -> list[str]:
    """Words and numbers that nothing was made of, in the order they stand."""
    used = [(a.start, a.end) for a in anchors] + [(q.start, q.end) for q in quantities]
    found: list[tuple[int, str]] = [(q.start, q.text) for q in left]
    for match in re.finditer(r"[^\s,;.:!?()\"]+", plain):
        word = match.group().strip("-'")
        if (
            len(word) < 2
            or word in vocabulary().quiet
            or any(s < match.end() and match.start() < e for s, e in used)
        ):
            continue
        if _about_riders(word):
            continue
        found.append((match.start(), word))
    return [word for _, word in sorted(dict.fromkeys(found))]
