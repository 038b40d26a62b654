"""The chain, the leg picture and the room in letters, 80 columns wide, for a terminal. Bars are watts."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sparewatt.present.drawings.chain_text import facts, said, toll_words, watts
from sparewatt.present.drawings.leg_text import caption, crossings, span, turns
from sparewatt.present.numbers import amount, band, rpm, terminal
from sparewatt.rig.outcome import Band, Link
from sparewatt.studies.answers import MatchAnswer, Room

__all__ = ["chain_text", "leg_text", "room_text"]

COLUMNS = 80
_EIGHTHS = " \u258f\u258e\u258d\u258c\u258b\u258a\u2589"
_FULL = "\u2588"
_ASCII = str.maketrans(
    {
        "\u2588": "#",
        "\u2502": "|",
        "\u2500": "-",
        "\u2514": "+",
        "\u25cf": "@",
        "\u25cb": "o",
        "\u2591": ":",
        "\u2571": "/",
        "\u2009": " ",
        "\u00b7": "*",
        "\u2212": "-",
        "\u00b0": "deg ",
        "\u2192": ">",
        "\u00b2": "2",
        "\u00b3": "3",
        "\u2026": "...",
    }
)


def chain_text(links: Sequence[Link], *, ascii_only: bool = False, colour: bool = False) -> str:
    """One line a link: name, bar of the watts that enter, watts, toll, and what it sees; the sentence last."""
    if not links:
        return "There is no chain to show."
    most = max([1.0, *(abs(link.p_in) for link in links if math.isfinite(link.p_in))])
    room = 26
    lines = []
    for link in links:
        mark = "!" if link.binds else " "
        bar = _bar(link.p_in, most, room, ascii_only)
        toll = toll_words(link)
        kept = terminal(toll, colour=colour) if toll else ""
        gap = " " * max(0, 10 - len(terminal(toll, colour=False) if toll else ""))
        seen = ", ".join(words for words, _ in facts(link, 9e9, False))
        lines.append(f"{mark}{_cut(link.name, 20):<20} {bar} {watts(link.p_in):>5}{gap}{kept}".rstrip())
        below = "; ".join(
            x
            for x in (
                seen,
                "this binds: " + link.limit
                if link.binds and link.limit
                else "this binds"
                if link.binds
                else "",
            )
            if x
        )
        lines += [f"    {part}" for part in _fold(below, COLUMNS - 4)] if below else []
    last = links[-1]
    lines.append(f" {'arrives':<20} {_bar(last.p_out, most, room, ascii_only)} {watts(last.p_out):>5} W")
    lines += ["", *_fold(said(links), COLUMNS)]
    return _finish(lines, ascii_only)


def leg_text(answer: MatchAnswer, *, ascii_only: bool = False, rows: int = 17) -> str:
    """Rider line, load line, rings and hatch on a grid of letters, with the axis in turns a minute."""
    p = answer.picture
    if p.cadence.size == 0:
        return caption(answer)
    left, wide = 6, COLUMNS - 8
    first, last = turns(float(p.cadence[0])), turns(float(p.cadence[-1]))
    top = float(np.nanmax(p.rider_high)) or 1.0
    grid = [[" "] * wide for _ in range(rows)]

    def column(t: float) -> int:
        return round((t - first) / (last - first) * (wide - 1))

    def row(torque: float) -> int:
        return rows - 1 - round(torque / top * (rows - 1))

    def put(t: float, torque: float, letter: str) -> None:
        if math.isfinite(t) and math.isfinite(torque) and first <= t <= last and 0 <= row(torque) < rows:
            grid[row(torque)][column(t)] = letter

    breaks = turns(p.breaks)
    for k in range(wide):
        t = first + k / (wide - 1) * (last - first)
        w = t * float(p.cadence[-1]) / last
        if t >= breaks:
            for r in range(rows):
                grid[r][k] = "\u2571"
        low, high = (float(np.interp(w, p.cadence, v)) for v in (p.rider_low, p.rider_high))
        for r in range(max(row(high), 0), min(row(low), rows - 1) + 1):
            grid[r][k] = "\u2591"
        put(t, float(np.interp(w, p.cadence, p.rider)), "\u2500")
        good = np.isfinite(p.load)
        if good.any() and w >= float(p.cadence[good][0]):
            put(t, float(np.interp(w, p.cadence[good], p.load[good])), "\u2588")
    for cross, _ in crossings(answer):
        put(turns(cross.w_crank), cross.torque_crank, "\u25cf" if cross.kind == "holds" else "\u25cb")
    lines = ["push at the crank, N\u00b7m"]
    for r in range(rows):
        value = top * (rows - 1 - r) / (rows - 1)
        lines.append(
            f"{value:>4.0f} \u2502" + "".join(grid[r]).rstrip()
            if r % 4 == 0
            else "     \u2502" + "".join(grid[r]).rstrip()
        )
    lines.append("     \u2514" + "\u2500" * wide)
    axis = [" "] * (wide + 8)
    for tick in range(0, 300, 20):
        if first <= tick <= last:
            at = column(tick) + left - len(str(tick)) // 2
            axis[at : at + len(str(tick))] = list(str(tick))
    lines += ["".join(axis).rstrip(), f"{'turns a minute at the crank':>{COLUMNS}}"]
    lines += _fold(
        "\u2500 your legs   \u2591 nine rides of ten   \u2588 the load   \u25cf holds   \u25cb tips over   \u2571 may break",
        COLUMNS,
    )
    lines += ["", *_fold(caption(answer), COLUMNS), *_gear_lines(answer)]
    return _finish(lines, ascii_only)


def _gear_lines(answer: MatchAnswer) -> list[str]:
    lines = [""]
    for row in answer.gears:
        holds = f"holds at {span(row.hold, row.hold.mid)}" if math.isfinite(row.hold.mid) else row.stop.value
        mark = ">" if row.gear == answer.gear else " "
        parts = [holds]
        parts += [f"asleep below {rpm(row.wakes)}"] if math.isfinite(row.wakes) else []
        parts += [f"may break above {rpm(row.breaks)}"] if math.isfinite(row.breaks) else []
        parts.append(f"{amount(row.ceiling, 'V').text} open at {rpm(row.fastest)}")
        text = _fold(", ".join(parts), COLUMNS - 10)
        lines += [f"{mark}{_cut(row.gear, 8):<8} {text[0]}", *(f"{'':10}{more}" for more in text[1:])]
    spare = answer.spare
    if math.isfinite(spare.mid):
        short = Band(-spare.mid, -spare.high, -spare.low, spare.how)
        lines.append(
            f" spare: {band(spare, 'W').text}" if spare.mid >= 0 else f" short by {band(short, 'W').text}"
        )
    return lines


_LETTERS = {
    "rideable": "\u2588", "asleep": "\u00b7", "not enough legs": " ", "tips over": "\\", "passes through": "+",
    "may break": "\u2571", "too hot": "~", "slips": "=", "not served": ">",
}  # fmt: skip


def room_text(room: Room, *, ascii_only: bool = False) -> str:
    """One line a gear, one or more letters a cell; the key names only what is there."""
    if room.cells.size == 0:
        return "There is no room to draw for this question."
    per = max(1, min(4, (COLUMNS - 12) // room.cells.shape[1]))
    lines = []
    for g, gear in enumerate(room.gears):
        cells = [_LETTERS[Room.CELLS[int(code)]] * per for code in room.cells[g]]
        if room.chosen is not None and room.chosen[0] == g:
            cells[room.chosen[1]] = "\u25cf" + cells[room.chosen[1]][1:]
        lines.append(f"{_cut(gear, 9):>9} \u2502{''.join(cells)}\u2502")
    first, step = (
        turns(float(room.cadence[0])),
        turns(float(room.cadence[1] - room.cadence[0])) if room.cadence.size > 1 else 5.0,
    )
    axis = [" "] * COLUMNS
    for tick in range(0, 300, 20):
        k = (tick - first) / step + 0.5
        if 0 <= k <= room.cells.shape[1]:
            at = 11 + int(k * per)
            axis[at : at + len(str(tick))] = list(str(tick))
    lines += [
        "".join(axis[:COLUMNS]).rstrip(),
        f"{'turns a minute at the crank':>{13 + per * room.cells.shape[1]}}",
    ]
    there = sorted({int(code) for code in room.cells.ravel()})
    lines += _fold(
        "   ".join(f"{_LETTERS[Room.CELLS[code]].strip() or 'blank'} {Room.CELLS[code]}" for code in there),
        COLUMNS,
    )
    return _finish(lines, ascii_only)


def _bar(p: float, most: float, room: int, ascii_only: bool) -> str:
    if not math.isfinite(p):
        return "?" * 3 + " " * (room - 3)
    eighths = round(abs(p) / most * room * 8)
    whole, rest = divmod(eighths, 8)
    text = _FULL * whole + (_EIGHTHS[rest] if rest and not ascii_only else "")
    text = text or ("|" if p else "")
    return f"{'<' + text[1:] if p < 0 and text else text:<{room}}"


def _cut(text: str, room: int) -> str:
    return text if len(text) <= room else text[: room - 1] + "\u2026"


def _fold(text: str, room: int) -> list[str]:
    """Text broken at spaces."""
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        if line and len(line) + 1 + len(word) > room:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}" if line else word
    return [*lines, line]


def _finish(lines: list[str], ascii_only: bool) -> str:
    text = "\n".join(lines)
    return text.translate(_ASCII) if ascii_only else text
