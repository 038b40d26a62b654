"""Numbers on the clock: rings for what the rig does, flags for what the rider does, so placed that none covers another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sparewatt.present.drawings.canvas import SMALL, Canvas, num
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.words_seconds_rows import Row

__all__ = ["Flag", "Ring", "draw_flags", "draw_rings", "flags", "rings", "spread"]

RADIUS = 12.0  # px of a ring with one number in it
SHIFT = 20.0  # px a ring may be moved aside before it is joined with its neighbour
SAME = 5.0  # px: two happenings nearer than this cannot be told apart
ROW = 25.0  # px from one row of flags to the next
BOX = 21.0  # px of the square a flag's number stands in
MOST_WORDS, LEAST_WORDS = 270.0, 72.0
BARE_ROWS = 2  # rows in which a number may stand without words
FEW = 6  # flags: with more, words that come back are said once


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """One ring or capsule: where it stands, where its happenings are, and what is written in it."""

    x: float
    points: tuple[float, ...]
    words: str
    wide: float
    hurts: bool
    until: float  # px: how far what is counted goes on


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """One flag: its pole, its row from the top, where its box and its words begin."""

    x: float
    row: int
    number: str
    box: float
    wide: float  # of the box
    words: str
    text: float  # x of the words

    @property
    def span(self) -> tuple[float, float]:
        """From the left to the right end of box and words."""
        ends = [self.box, self.box + self.wide]
        if self.words:
            ends += [self.text, self.text + width(self.words, SMALL)]
        return min(ends), max(ends)


def spread(centres: Sequence[float], sizes: Sequence[float], low: float, high: float) -> list[float] | None:
    """Centres moved as little as possible so that pieces of these sizes, in this order, do not overlap; None if too many.

    Neighbours that would touch form a block, and a block stands where the squares of its moves are least.
    """
    if sum(sizes) > high - low + 1e-9:
        return None
    blocks: list[tuple[float, int, float, int]] = []  # sum of wanted starts, pieces, size, index of the first
    for k, (centre, size) in enumerate(zip(centres, sizes, strict=True)):
        block = (centre - size / 2, 1, size, k)
        while blocks and _start(blocks[-1], low, high) + blocks[-1][2] > _start(block, low, high):
            total, count, long, first = blocks.pop()
            block = (total + block[0] - long * block[1], count + block[1], long + block[2], first)
        blocks.append(block)
    placed = [0.0] * len(centres)
    for block in blocks:
        at = _start(block, low, high)
        for k in range(block[3], block[3] + block[1]):
            placed[k] = at + sizes[k] / 2
            at += sizes[k]
    return placed


def _start(block: tuple[float, int, float, int], low: float, high: float) -> float:
    return min(max(block[0] / block[1], low), high - block[2])


# ---- rings -----------------------------------------------------------------------------------------------------------


def rings(rows: Sequence[tuple[Row, float, float]], low: float, high: float) -> list[Ring]:
    """Rings for rows at given px (and the px at which what is counted ends), joined where they would not keep apart."""
    groups = _near(rows)
    while True:
        centres = [(g[0][1] + g[-1][1]) / 2 for g in groups]
        sizes = [_wide(g) + 4 for g in groups]
        placed = spread(centres, sizes, low, high)
        moved = [abs(a - b) for a, b in zip(placed, centres, strict=True)] if placed else []
        edge = [max(low + s / 2 - x, x - high + s / 2, 0.0) for x, s in zip(centres, sizes, strict=True)]
        if placed and all(m <= SHIFT + e for m, e in zip(moved, edge, strict=True)):
            break
        if len(groups) < 2:
            placed = [min(max(x, low), high) for x in centres]
            break
        worst = max(range(len(groups)), key=lambda k: moved[k]) if placed else 0
        pairs = (
            range(len(groups) - 1)
            if not placed
            else range(max(worst - 3, 0), min(worst + 3, len(groups) - 1))
        )
        k = min(pairs, key=lambda i: (groups[i + 1][0][1] - groups[i][-1][1], i))
        groups[k : k + 2] = [groups[k] + groups[k + 1]]
    return [
        Ring(
            x=x,
            points=tuple(p for _, p, _ in g),
            words=_numbers(g),
            wide=_wide(g),
            hurts=any(row.hurts for row, _, _ in g),
            until=max(end for _, _, end in g),
        )
        for x, g in zip(placed, groups, strict=True)
    ]


Group = list[tuple[Row, float, float]]


def _near(rows: Sequence[tuple[Row, float, float]]) -> list[Group]:
    """Rows that stand on the same px or nearly so, together."""
    groups: list[Group] = []
    for row in sorted(rows, key=lambda r: r[1]):
        if groups and row[1] - groups[-1][-1][1] < SAME:
            groups[-1].append(row)
        else:
            groups.append([row])
    return groups


def _numbers(group: Group) -> str:
    numbers = sorted(row.number for row, _, _ in group)
    return str(numbers[0]) if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"


def _wide(group: Group) -> float:
    return max(2 * RADIUS, width(_numbers(group), SMALL, bold=True) + 14)


def draw_rings(c: Canvas, found: Sequence[Ring], top: float, y: float) -> None:
    """The rings on the line at y, each tied to its moment on the edge above it; what hurts in the accent, and heavier."""
    for ring in found:
        if ring.until > max(ring.points) + 6:
            c.line(max(ring.points), y, ring.until, y, "dl", 5)
            c.line(ring.until, y - 7, ring.until, y + 7, "dl", 2)
    for ring in found:
        line = "dl-acc" if ring.hurts else "dl-soft"
        stroke = 2.5 if ring.hurts else 1.5
        shown = sorted({round(p) for p in (*ring.points[:1], *ring.points[-1:])})
        for p in shown:
            c.line(p, top - 7, p, top, line, 2.5 if ring.hurts else 2)
            c.path(f"M{num(p)} {num(top)}L{num(_foot(ring, p))} {num(y - RADIUS)}", line, stroke)
    for ring in found:
        c.open(ring.words)
        half, straight = ring.wide / 2, ring.wide - 2 * RADIUS
        if straight <= 0.5:
            c.ring(ring.x, y, RADIUS, "ds-boxacc" if ring.hurts else "ds-ring", 3 if ring.hurts else 2)
        else:
            r = num(RADIUS)
            c.path(
                f"M{num(ring.x - half + RADIUS)} {num(y - RADIUS)}h{num(straight)}a{r} {r} 0 0 1 0 {num(2 * RADIUS)}"
                f"h{num(-straight)}a{r} {r} 0 0 1 0 {num(-2 * RADIUS)}Z",
                "ds-boxacc" if ring.hurts else "ds-ring",
                3 if ring.hurts else 2,
            )
        c.text(ring.x, y + 5.3, ring.words, bold=True, anchor="middle", cls="dt-acc" if ring.hurts else "dt")
        c.close()


def _foot(ring: Ring, p: float) -> float:
    """Where the tie of a moment meets its ring."""
    half = ring.wide / 2 - RADIUS
    return min(max(p, ring.x - half), ring.x + half)


# ---- flags -----------------------------------------------------------------------------------------------------------


def flags(
    rows: Sequence[tuple[Row, float]], low: float, high: float, most_rows: int
) -> tuple[list[Flag], int]:
    """Flags for steps at given px between the edges of the sheet, and how many rows they need.

    Words first; where they find no place only the number; where that finds none either it joins the flag before it.
    """
    placed: list[Flag] = []
    said: dict[str, int] = {}
    for row, x in sorted(rows, key=lambda r: (r[1], r[0].number)):
        words = row.says.rstrip(".")
        said[words] = said.get(words, 0) + 1
        again = said[words] > 1 and len(rows) > FEW  # what comes back is said once
        tries = [""] if again else [*_shorter(words, x, low, high), ""]
        found = (
            _placed(x, str(row.number), text, placed, low, high, most_rows if text else BARE_ROWS)
            for text in tries
        )
        flag = next((f for f in found if f is not None), None)
        if flag is None and placed and placed[-1].words:  # do not take its words away
            flag = _placed(x, str(row.number), "", placed, low, high, most_rows)
        if flag is not None:
            placed.append(flag)
        elif placed:
            placed[-1] = _joined(placed, row.number, low, high)
    used = sorted({f.row for f in placed})
    return placed, (used[-1] + 1 if used else 0)


def _shorter(words: str, x: float, low: float, high: float) -> list[str]:
    """The words whole, and cut to the room right and left of the pole where that is worth reading."""
    rooms = [MOST_WORDS, high - x - 2 * BOX, x - low - 2 * BOX]
    cut = [wrap(words, room, SMALL, most=1)[0] for room in rooms if room >= LEAST_WORDS]
    return list(dict.fromkeys(cut))


def _placed(
    x: float, number: str, words: str, placed: Sequence[Flag], low: float, high: float, most_rows: int
) -> Flag | None:  # fmt: skip
    """The first row and side on which a flag covers nothing and no pole runs through anything."""
    wide = max(BOX, width(number, SMALL, bold=True) + 9)
    long = width(words, SMALL) + 7 if words else 0.0
    for r in range(most_rows):
        for box in (x, x - wide):
            starts = [box + wide + 6, box - long] if words else [box + wide]
            for text in starts:
                flag = Flag(x=x, row=r, number=number, box=box, wide=wide, words=words, text=text)
                first, last = flag.span
                if first >= low and last <= high and not any(_clash(flag, other) for other in placed):
                    return flag
    return None


def _clash(one: Flag, other: Flag) -> bool:
    """The two cover each other in one row, or the pole of the higher one runs through the lower one."""
    (a0, a1), (b0, b1) = one.span, other.span
    if one.row == other.row:
        return a0 < b1 + 8 and b0 < a1 + 8
    high, low = (one, other) if one.row < other.row else (other, one)
    first, last = low.span
    return first - 4 < high.x < last + 4 and abs(high.x - low.x) > 0.5


def _joined(placed: Sequence[Flag], number: int, low: float, high: float) -> Flag:
    """The last flag with one more number in its box and no words, if there is room for it; else as it was."""
    last = placed[-1]
    words = f"{last.number.partition(' ')[0]} to {number}"
    wide = width(words, SMALL, bold=True) + 9
    for box in (last.box, last.x - wide, last.box + last.wide - wide):
        flag = Flag(x=last.x, row=last.row, number=words, box=box, wide=wide, words="", text=box + wide)
        if box >= low and box + wide <= high and not any(_clash(flag, other) for other in placed[:-1]):
            return flag
    return last


def draw_flags(c: Canvas, found: Sequence[Flag], steps: Sequence[float], top: float, bottom: float) -> None:
    """A pole for every step from its flag down through the panels, then the flags."""
    line = "dl-soft" if len(steps) <= FEW else "dl-rule"
    under = top + ROW * (max((flag.row for flag in found), default=0) + 1)
    for x in steps:
        own = next((flag for flag in found if flag.x == x), None)
        c.line(x, top + own.row * ROW + BOX / 2 if own else under, x, bottom, line, 1.5)
    for flag in found:
        y = top + flag.row * ROW
        c.rect(flag.box, y, flag.wide, BOX, "ds-box", 2)
        c.text(flag.box + flag.wide / 2, y + 15.8, flag.number, bold=True, anchor="middle")
        if flag.words:
            c.text(flag.text, y + 15.8, flag.words)
