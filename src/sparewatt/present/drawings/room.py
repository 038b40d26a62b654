"""Room to ride in: every gear against every cadence, and which limit closes each cell. Patterns carry the meaning."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.present import words
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.leg_text import turns
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.palette import PRINT, Palette
from sparewatt.studies.answers import Room

__all__ = ["caption", "cell_boxes", "room_to_ride"]

CELLS = Room.CELLS
# fill of each cell, by its name in Room.CELLS; "" is left blank
FILLS = {
    "rideable": "df-sand", "asleep": "dots", "not enough legs": "", "tips over": "dashes", "passes through": "crosses",
    "may break": "hatch", "too hot": "waves", "slips": "rungs", "not served": "chevrons",
}  # fmt: skip
WORDS = {
    "rideable": "room to ride in",
    "asleep": "asleep",
    "not enough legs": "not enough legs",
    "tips over": "tips over",
    "passes through": "passes through",
    "may break": "may break",
    "too hot": "too hot",
    "slips": "slips",
    "not served": "volts too low for it",
}
Grid = NDArray[np.int64]
Flags = NDArray[np.bool_]


def room_to_ride(
    room: Room,
    *,
    wide: float = 520,
    key: str = "room",
    cls: str = "dw-wide",
    standalone: bool = False,
    palette: Palette = PRINT,
) -> str:
    """The room as a drawing; draw it 344 wide for a phone."""
    return _Room(room, wide, key).draw().svg(standalone=standalone, palette=palette, cls=cls)


def cell_boxes(room: Room, *, wide: float) -> list[tuple[int, int, float, float, float, float]]:
    """Where each cell lies in the drawing of that width: gear, cadence, x, y, width, height."""
    if not room.cells.size:
        return []
    seen = _Seats(room, wide)
    cells = np.ndindex(room.cells.shape)
    return [(g, k, seen.x(k), seen.y(g), seen.cell, seen.row) for g, k in cells]


def caption(room: Room) -> str:
    """The sentence under the room."""
    if room.cells.size == 0:
        return "There is no room to draw for this question."
    open_cells = room.cells == 0
    if not open_cells.any():
        return _again(room) or _no_room(room)
    g, k = room.chosen or (int(np.argmax(open_cells.sum(axis=1))), int(np.argmax(open_cells.any(axis=0))))
    g = g if open_cells[g].any() else int(np.argmax(open_cells.sum(axis=1)))
    first, last = _stretch(open_cells[g], k)
    half = _half(room)
    low, high = turns(float(room.cadence[first])) - half, turns(float(room.cadence[last])) + half
    on = f" on {room.gears[g]}" if len(room.gears) > 1 else ""
    text = f"Filled is where you can ride:{on} from {low:.0f} to {high:.0f} turns a minute"
    more = int(open_cells.any(axis=1).sum()) - 1
    text += f", and in {more} more gear{'' if more == 1 else 's'}" if more else ""
    if room.chosen is not None:
        near = open_cells[room.chosen[0], max(room.chosen[1] - 1, 0) : room.chosen[1] + 2].any()
        text += ". The ring is where you are now" + ("" if near else ", and it is outside")
    return text + "."


def _stretch(row: Flags, k: int) -> tuple[int, int]:
    """The run of open cells nearest to column k."""
    columns = np.flatnonzero(row)
    first = last = int(columns[np.argmin(np.abs(columns - k))])
    while first > 0 and row[first - 1]:
        first -= 1
    while last + 1 < row.size and row[last + 1]:
        last += 1
    return first, last


def _no_room(room: Room) -> str:
    return words.room(room)


def _again(room: Room) -> str:
    """The largest smaller load for which there is room."""
    shares = [share for share, cells in room.by_load if share < 1 and cells > 0]
    return f"At {max(shares) * 100:.0f}\u2009% of this load there is room again." if shares else ""


def _half(room: Room) -> float:
    """Half a cell in turns a minute."""
    return turns(float(room.cadence[1] - room.cadence[0])) / 2 if room.cadence.size > 1 else 2.5


@dataclass(frozen=True, slots=True)
class _Region:
    """Joined cells of one code."""

    code: int
    cells: tuple[tuple[int, int], ...]


class _Seats:
    """Where the cells of a room lie."""

    top = 8.0

    def __init__(self, room: Room, wide: float) -> None:
        self.rows, self.columns = (int(n) for n in room.cells.shape)
        self.left = 16 + max(width(gear, 16, bold=True) for gear in room.gears)
        self.cell = (wide - self.left - 16) / self.columns
        self.row = min(max(30.0, 190.0 / self.rows), 46.0)
        self.foot = self.y(self.rows)

    def x(self, column: float) -> float:
        """Left edge of a column."""
        return self.left + column * self.cell

    def y(self, row: float) -> float:
        """Upper edge of a row."""
        return self.top + row * self.row


class _Room(_Seats):
    """One room being drawn."""

    def __init__(self, room: Room, wide: float, key: str) -> None:
        self.room = room
        desc = _long_text(room)
        self.rows = 0
        if not room.cells.size:
            self.canvas = Canvas(wide, 40, key=key, title="Room to ride in", desc=desc)
            return
        super().__init__(room, wide)
        self.regions = _regions(room.cells)
        self.key = self._key_needed()
        self.sentence = wrap(_no_room(room), wide - 4, 18, bold=True) if not (room.cells == 0).any() else []
        tall = self.foot + 52 + 22 * len(self.sentence) + (10 if self.sentence else 0)
        self.key_rows = self._key_layout(wide)
        self.canvas = Canvas(
            wide, tall + 28 * len(self.key_rows), key=key, title="Room to ride in", desc=desc
        )

    def draw(self) -> Canvas:
        c = self.canvas
        if not self.rows:
            c.text(4, 24, "There is no room to draw for this question.", size=17)
            return c
        self._fills()
        self._rules()
        for region in self.regions:
            if region.code == 0:
                self._outline(region)
        self._axes()
        for region in self.named:
            self._name(region)
        if self.room.chosen is not None:
            g, k = self.room.chosen
            x = self.x(k + 0.5 + self._lean(g, k))
            c.ring(x, self.y(g + 0.5), 9, "ds-ring", 3)
            c.ring(x, self.y(g + 0.5), 4.5, "df-ink", 0)
        y = self.foot + 76
        for line in self.sentence:
            c.text(2, y, line, size=18, bold=True)
            y += 22
        self._key(y)
        return c

    def _lean(self, g: int, k: int) -> float:
        """A point in the cell next to the room is drawn on the border between the two: cells are wide, points are not."""
        row = self.room.cells[g]
        if row[k] == 0:
            return 0.0
        return -0.5 if k > 0 and row[k - 1] == 0 else 0.5 if k + 1 < row.size and row[k + 1] == 0 else 0.0

    def _fills(self) -> None:
        """Runs of equal cells, each one shape."""
        c, cells = self.canvas, self.room.cells
        for g in range(self.rows):
            k = 0
            while k < self.columns:
                end = k
                while end < self.columns and cells[g, end] == cells[g, k]:
                    end += 1
                fill = FILLS[CELLS[int(cells[g, k])]]
                if fill:
                    c.rect(
                        self.x(k),
                        self.y(g),
                        self.x(end) - self.x(k),
                        self.row,
                        fill if fill.startswith("df-") else c.pattern(fill),
                    )
                k = end

    def _rules(self) -> None:
        c = self.canvas
        for g in range(self.rows + 1):
            c.line(self.x(0), self.y(g), self.x(self.columns), self.y(g), "dl-rule", 1.5)
        for k in range(self.columns + 1):
            c.line(self.x(k), self.top, self.x(k), self.foot, "dl-rule", 1.5)

    def _outline(self, region: _Region) -> None:
        """A firm line round the rideable cells."""
        inside, d = set(region.cells), ""
        for g, k in region.cells:
            for dg, dk, (x1, y1, x2, y2) in (
                (-1, 0, (k, g, k + 1, g)),
                (1, 0, (k, g + 1, k + 1, g + 1)),
                (0, -1, (k, g, k, g + 1)),
                (0, 1, (k + 1, g, k + 1, g + 1)),
            ):
                if (g + dg, k + dk) not in inside:
                    d += f"M{self.x(x1):.1f} {self.y(y1):.1f}L{self.x(x2):.1f} {self.y(y2):.1f}"
        self.canvas.raw(f'<path class="dl" d="{d}" stroke-width="2.5" stroke-linecap="square"/>')

    def _axes(self) -> None:
        c, chosen = self.canvas, self.room.chosen
        for g, gear in enumerate(self.room.gears):
            c.text(
                self.left - 9,
                self.y(g + 0.5) + 5,
                gear,
                size=16,
                bold=chosen is not None and chosen[0] == g,
                anchor="end",
            )
        half = _half(self.room)
        first, last = turns(float(self.room.cadence[0])) - half, turns(float(self.room.cadence[-1])) + half
        for tick in range(0, 300, 20):
            if first <= tick <= last:
                x = self.x((tick - first) / (2 * half))
                c.line(x, self.foot, x, self.foot + 6, "dl", 2)
                c.text(x, self.foot + 22, str(tick), anchor="middle")
        c.text(
            self.x(self.columns), self.foot + 43, "turns a minute at the crank", anchor="end", cls="dt-soft"
        )

    # names of regions ---------------------------------------------------------------------------------------------
    def _key_needed(self) -> list[int]:
        """Codes whose name fits nowhere inside a region of theirs; sets the regions that carry their name."""
        self.named: list[_Region] = []
        missing = []
        for code in sorted({int(code) for code in self.room.cells.ravel()}):
            mine = sorted((r for r in self.regions if r.code == code), key=lambda r: -len(r.cells))
            fitting = next((r for r in mine if self._seat(r) is not None), None)
            if fitting is not None:
                self.named.append(fitting)
            elif FILLS[CELLS[code]]:
                missing.append(code)
        return missing

    def _seat(self, region: _Region) -> tuple[float, float] | None:
        """Middle of the widest free run of cells that holds the region's name and not the chosen ring."""
        need = width(WORDS[CELLS[region.code]], 15, bold=True) + 10
        inside, best = set(region.cells), None
        if self.room.chosen is not None:
            inside.discard(self.room.chosen)
        middle = sum(g for g, _ in region.cells) / len(region.cells)
        for g in sorted({g for g, _ in inside}):
            k = 0
            while k < self.columns:
                end = k
                while (g, end) in inside:
                    end += 1
                long = (end - k) * self.cell
                if long >= need:
                    score = min(long, 2.2 * need) - 8 * abs(g - middle)
                    if best is None or score > best[0]:
                        best = (score, self.x((k + end) / 2), self.y(g + 0.5))
                k = max(end, k + 1)
        return (best[1], best[2]) if best else None

    def _name(self, region: _Region) -> None:
        seat = self._seat(region)
        if seat is not None:
            x, y = seat
            name = CELLS[region.code]
            plain = FILLS[name] in ("", "df-sand")
            cls = "dt-acc" if name in ("may break", "too hot") else "dt"
            self.canvas.text(x, y + 5, WORDS[name], bold=True, anchor="middle", cls=cls, halo=not plain)

    # key for what could not be named in place ----------------------------------------------------------------------
    def _key_layout(self, wide: float) -> list[list[int]]:
        rows: list[list[int]] = []
        room = 0.0
        for code in self.key:
            need = 44 + width(WORDS[CELLS[code]], 15) + 18
            if not rows or room < need:
                rows.append([])
                room = wide
            rows[-1].append(code)
            room -= need
        return rows

    def _key(self, y: float) -> None:
        c = self.canvas
        y = self.foot + 58 + (22 * len(self.sentence) + 10 if self.sentence else 0)
        for row in self.key_rows:
            x = 2.0
            for code in row:
                name = CELLS[code]
                fill = FILLS[name]
                c.rect(x, y, 36, 18, fill if fill.startswith("df-") else c.pattern(fill))
                c.raw(f'<rect class="dl-rule" x="{x}" y="{y}" width="36" height="18" stroke-width="1.5"/>')
                x += 44 + c.text(x + 44, y + 14, WORDS[name]) + 18
            y += 28


def _regions(cells: Grid) -> list[_Region]:
    """Joined cells of equal code, by flooding."""
    left = {(g, k): int(code) for g, row in enumerate(cells.tolist()) for k, code in enumerate(row)}
    found = []
    while left:
        start = next(iter(left))
        code = left.pop(start)
        stack, mine = [start], []
        while stack:
            g, k = stack.pop()
            mine.append((g, k))
            for near in ((g - 1, k), (g + 1, k), (g, k - 1), (g, k + 1)):
                if left.get(near) == code:
                    del left[near]
                    stack.append(near)
        found.append(_Region(code, tuple(mine)))
    return found


def _long_text(room: Room) -> str:
    """The room as text: per gear, what each stretch of cadence is."""
    parts = [caption(room) if (room.cells == 0).any() or not room.cells.size else _no_room(room)]
    half = _half(room)
    for gear, row in zip(room.gears, room.cells, strict=True):
        runs, k = [], 0
        while k < row.size:
            end = k
            while end + 1 < row.size and row[end + 1] == row[k]:
                end += 1
            low, high = turns(float(room.cadence[k])) - half, turns(float(room.cadence[end])) + half
            runs.append(f"{WORDS[CELLS[int(row[k])]]} {low:.0f} to {high:.0f}")
            k = end + 1
        parts.append(f"Gear {gear}: {'; '.join(runs)}.")
    return " ".join(parts)
