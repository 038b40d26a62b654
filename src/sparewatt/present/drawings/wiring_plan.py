"""Where each part of the wiring sketch stands: laid along, with the boards below each other, or upright for a phone.

Along: every line runs to the right in a row of its own; what parts goes down a trunk. Upright: every line runs down the page
and what parts is drawn one step further in. A short thick bar is minus.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

from sparewatt.present.drawings.letters import wrap
from sparewatt.present.drawings.wiring_parts import Line, Part, Sketch

__all__ = ["Placed", "Plan", "along", "down_the_page"]

Point = tuple[float, float]
SIZE, LEADING = 15.0, 18.0
HANG = 86.0  # px from the line down to minus
BARE = (26.0, 34.0)  # px above and below a row with nothing in its line
MARGIN, END_WORDS = 62.0, 150.0
BOARD, STUB = 28.0, 12.0  # half a board's box, and from it to its minus


@dataclass(frozen=True, slots=True)
class Placed:
    """One part where it stands: its terminals, whether it runs down the page, and its lines of words."""

    part: Part
    at: tuple[Point, ...]
    down: bool
    words: tuple[str, ...]
    text: Point
    anchor: str = "start"


@dataclass(slots=True)
class Plan:
    """Everything to draw. wires: (from, to); joints: dots where wires part."""

    wide: float = 0.0
    high: float = 0.0
    placed: list[Placed] = field(default_factory=list)
    wires: list[tuple[Point, Point]] = field(default_factory=list)
    joints: list[Point] = field(default_factory=list)

    def wire(self, a: Point, b: Point) -> None:
        """A straight piece of wire, if it has any length."""
        if a != b:
            self.wires.append((a, b))

    def hang(self, part: Part, at: Point, words: tuple[str, ...], text: Point, anchor: str = "start") -> None:
        """A part from the line down to minus; a plug hangs free."""
        ends: tuple[Point, ...] = (at,) if part.kind == "plug" else (at, (at[0], at[1] + HANG))
        self.placed.append(Placed(part, ends, True, words, text, anchor))


def _middle(y: float, lines: tuple[str, ...]) -> float:
    """Where the first of some lines stands beside what hangs from y."""
    return y + HANG / 2 + 6 - LEADING / 2 * (len(lines) - 1)


def _lines(part: Part, room: float) -> tuple[str, ...]:
    return tuple(line for words in part.words for line in wrap(words, room, SIZE))


def _hung(sketch: Sketch, node: str, plugs: Sequence[tuple[Part, str]]) -> list[Part]:
    return [*sketch.across.get(node, ()), *(part for part, at in plugs if at == node)]


def _plug_ends(sketch: Sketch) -> list[tuple[Part, str]]:
    return [(part, at) for part, start, end in sketch.plugs for at in (start, end)]


# ---- laid along ----


class _Along:
    """Rows and columns of a sketch laid along."""

    def __init__(self, sketch: Sketch, step: float) -> None:
        self.sketch, self.step = sketch, step
        self.plugs = _plug_ends(sketch)
        self.out: dict[str, list[Line]] = {}
        for line in sketch.lines:
            self.out.setdefault(line.start, []).append(line)
        self.x: dict[str, float] = {}
        self.row: dict[str, int] = {}
        self.line_row: dict[int, int] = {}
        rows = 0
        for start in (*sketch.starts[1:], sketch.starts[0]):
            rows = self.rows(start, rows)
        for node in (*sketch.across, *self.out):
            rows = rows if node in self.row else self.rows(node, rows)
        self.columns()

    def rows(self, node: str, row: int) -> int:
        """A row for a node and for each line from it; the next free row."""
        if node in self.row:
            return row + 1
        self.row[node] = row
        after = row + 1
        for k, line in enumerate(self.out.get(node, [])):
            at = row if k == 0 else after
            self.line_row[id(line)] = at
            after = max(after, self.rows(line.end, at))
        return after

    def columns(self) -> None:
        """How far along each node stands: behind the longest way to it."""
        for node in self.row:
            self.x[node] = MARGIN
        for _ in range(len(self.x) + 1):
            for line in self.sketch.lines:
                far = self.after(line.start) + self.step * (len(line.parts) or 0.4)
                self.x[line.end] = max(self.x[line.end], far)

    def hung_at(self, node: str, k: int) -> float:
        """Where the part of that number hangs."""
        first = 0.0 if node in self.sketch.starts or node not in self.out else 0.5
        return self.x[node] + self.step * (k + first)

    def after(self, node: str) -> float:
        """Where the trunk of a node stands: behind what hangs there."""
        hung = len(_hung(self.sketch, node, self.plugs))
        if not hung:
            return self.x[node]
        return self.hung_at(node, hung - 1) + (self.step / 2 if node in self.out else 0.0)

    def plan(self) -> Plan:
        """Everything in its place."""
        plan = Plan()
        heights = self.heights()
        y: dict[int, float] = {}
        top = 0.0
        for row, (above, below) in sorted(heights.items()):
            y[row] = top + above
            top += above + below
        trunks: dict[float, dict[str, list[float]]] = {}

        def meets(node: str, x: float, at: float) -> None:
            trunks.setdefault(x, {}).setdefault(node, []).append(at)

        for node in self.row:
            self.node(plan, node, y[self.row[node]])
            meets(node, self.x[node], y[self.row[node]])
            meets(node, self.after(node), y[self.row[node]])
        for line in self.sketch.lines:
            at, x = y[self.line_row[id(line)]], self.after(line.start)
            meets(line.start, x, at)
            meets(line.end, self.x[line.end], at)
            for part in line.parts:
                _inline(plan, part, (x, at), self.step)
                x += self.step
            plan.wire((x, at), (self.x[line.end], at))
        for x, nodes in trunks.items():
            for rows in nodes.values():
                self.trunk(plan, x, rows)
        plan.wide = max(self.after(n) for n in self.row) + END_WORDS
        plan.high = top
        return plan

    def heights(self) -> dict[int, tuple[float, float]]:
        """Room above and below the line of each row."""
        room = self.step - 8
        found: dict[int, tuple[float, float]] = {}
        for line in self.sketch.lines:
            row = self.line_row[id(line)]
            for part in line.parts:
                words = len(_lines(part, room))
                half = BOARD if part.kind in ("board", "inverter") else 17.0
                above, below = found.get(row, BARE)
                found[row] = max(above, half + 8 + LEADING * words), max(below, half + STUB + 16)
        for node, row in self.row.items():
            hung = _hung(self.sketch, node, self.plugs)
            above, below = found.get(row, BARE)
            for k, part in enumerate(hung):
                last = node not in self.out and k == len(hung) - 1
                words = 0 if last else len(_lines(part, room))
                below = max(below, HANG + 22 + LEADING * words)
            found[row] = above, below
        for row in {*self.row.values(), *self.line_row.values()}:
            found.setdefault(row, BARE)
        return found

    def node(self, plan: Plan, node: str, at: float) -> None:
        """What hangs at a node."""
        hung, leads_on = _hung(self.sketch, node, self.plugs), node in self.out
        for k, part in enumerate(hung):
            here = self.hung_at(node, k)
            if not leads_on and k == len(hung) - 1:
                lines = _lines(part, END_WORDS - 36)
                plan.hang(part, (here, at), lines, (here + 32, _middle(at, lines)))
            else:
                lines = _lines(part, self.step - 8)
                plan.hang(part, (here, at), lines, (here, at + HANG + 24), "middle")
                if not (k == 0 and node in self.sketch.starts):
                    plan.joints.append((here, at))
        plan.wire((self.x[node], at), (self.after(node), at))

    def trunk(self, plan: Plan, x: float, rows: list[float]) -> None:
        """A line down the page through rows, with a dot where each but the ends' last parts from it."""
        levels = sorted(set(rows))
        for a, b in itertools.pairwise(levels):
            plan.wire((x, a), (x, b))
        plan.joints += [(x, level) for level in levels[:-1]] if len(levels) > 1 else []


def along(sketch: Sketch, wide: float, steps: tuple[float, float]) -> Plan:
    """The sketch laid along, as wide as there is room for within the steps."""
    loose = _Along(sketch, steps[1])
    widest = max(loose.after(n) for n in loose.row) - MARGIN
    step = min(max(steps[1] * (wide - MARGIN - END_WORDS) / max(widest, 1.0), steps[0]), steps[1])
    return _Along(sketch, step).plan()


def _inline(plan: Plan, part: Part, at: Point, step: float) -> None:
    """A part in a line that runs along, its words above."""
    x, y = at
    lines = _lines(part, step - 8)
    board = part.kind in ("board", "inverter")
    half = BOARD if board else 17.0
    ends: tuple[Point, ...] = ((x, y), (x + step, y))
    if board:
        ends = (*ends, (x + step / 2, y + BOARD + STUB))
    text = (x + step / 2, y - half - 8 - LEADING * (len(lines) - 1))
    plan.placed.append(Placed(part, ends, False, lines, text, "middle"))


# ---- upright ----

INDENT, UP_STEP, BOARD_STEP = 34.0, 62.0, 92.0
LEFT, GAP = 30.0, 22.0


class _Upright:
    """The sketch down the page, one step in for what parts."""

    def __init__(self, sketch: Sketch, wide: float) -> None:
        self.sketch, self.wide, self.plan = sketch, wide, Plan(wide=wide)
        self.plugs = _plug_ends(sketch)
        self.out: dict[str, list[Line]] = {}
        ends: dict[str, int] = {}
        for line in sketch.lines:
            self.out.setdefault(line.start, []).append(line)
            ends[line.end] = ends.get(line.end, 0) + 1
        self.joins = {node for node, count in ends.items() if count > 1}
        self.arrived: dict[str, list[float]] = {}
        self.done: set[str] = set()

    def draw(self) -> Plan:
        """Every rig to where they join, then what hangs there."""
        y = 34.0
        for start in (*self.sketch.starts[1:], self.sketch.starts[0]):
            y = self.node(start, LEFT + (INDENT if self.joins else 0.0), y)
        for node in list(self.joins):
            top = min(self.arrived[node])
            bottom = max(self.arrived[node])
            levels = sorted({*self.arrived[node]})
            for a, b in itertools.pairwise(levels):
                self.plan.wire((LEFT, a), (LEFT, b))
            self.plan.joints += [(LEFT, level) for level in levels if level != top]
            y = max(y, bottom + GAP)
            self.plan.wire((LEFT, bottom), (LEFT, y))
            y = self.node(node, LEFT, y, joined=True)
        for node in (*self.sketch.across, *self.out):
            if node not in self.done:
                y = self.node(node, LEFT, y + GAP)
        self.plan.high = y + 8
        return self.plan

    def node(self, node: str, x: float, y: float, *, joined: bool = False) -> float:
        """A node at (x, y) and all that hangs on it; the next free height."""
        if node in self.joins and not joined:
            self.arrived.setdefault(node, []).append(y)
            self.plan.wire((x, y), (LEFT, y))
            return y + GAP
        self.done.add(node)
        lines = self.out.get(node, [])
        hung = _hung(self.sketch, node, self.plugs)
        if not lines and len(hung) == 1:
            return self.hang(hung[0], x, y)
        here = y
        for k, part in enumerate(hung):
            here = self.side(x, here, joint=k > 0 or node not in self.sketch.starts)
            below = self.hang(part, x + INDENT, here)
            here = self.on(x, here, below)
        for k, line in enumerate(lines):
            if k == len(lines) - 1:
                return self.line(line, x, here)
            here = self.side(x, here)
            below = self.line(line, x + INDENT, here)
            here = self.on(x, here, below)
        return here if hung else here + GAP

    def side(self, x: float, y: float, *, joint: bool = True) -> float:
        """A wire one step in at this height."""
        self.plan.wire((x, y), (x + INDENT, y))
        self.plan.joints += [(x, y)] if joint else []
        return y

    def on(self, x: float, y: float, below: float) -> float:
        """The trunk goes on down past what was drawn."""
        self.plan.wire((x, y), (x, below))
        return below

    def line(self, line: Line, x: float, y: float) -> float:
        """Parts down a line, then what it ends in."""
        for part in line.parts:
            board = part.kind in ("board", "inverter")
            words = _lines(part, self.wide - x - (68 if board else 30) - 4)
            step = max(BOARD_STEP if board else UP_STEP, LEADING * len(words) + 22)
            ends: tuple[Point, ...] = ((x, y), (x, y + step))
            if board:
                ends = (*ends, (x + BOARD + STUB, y + step / 2))
            text = (
                x + (BOARD + STUB + 14 if board else 26),
                y + step / 2 + 6 - LEADING / 2 * (len(words) - 1),
            )
            self.plan.placed.append(Placed(part, ends, True, words, text))
            y += step
        return self.node(line.end, x, y)

    def hang(self, part: Part, x: float, y: float) -> float:
        """A part down to minus, its words beside it."""
        words = _lines(part, self.wide - x - 40)
        self.plan.hang(part, (x, y), words, (x + 34, _middle(y, words)))
        return y + max(HANG, LEADING * len(words)) + GAP


def down_the_page(sketch: Sketch, wide: float) -> Plan:
    """The sketch down the page."""
    return _Upright(sketch, wide).draw()
