"""A sheet of SVG to draw on: shapes by class name, text in the three looks, hatches, and a text alternative."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from sparewatt.errors import visible
from sparewatt.present.drawings.letters import width
from sparewatt.present.palette import PRINT, Palette, file_css, room_class

__all__ = ["SMALL", "Canvas", "num"]

SMALL = 15.0  # no letter is ever smaller
Pair = tuple[float, float]


def num(x: float) -> str:
    """A coordinate with one decimal at most."""
    text = f"{x:.1f}"
    return text[:-2] if text.endswith(".0") else text


class Canvas:
    """Collects shapes; `svg` returns the finished drawing. `key` keeps the names of its patterns apart on a page."""

    def __init__(self, wide: float, high: float, *, key: str, title: str, desc: str) -> None:
        self.wide = wide
        self.high = high
        self.key = key
        self.title = title
        self.desc = desc
        self._shapes: list[str] = []
        self._patterns: dict[str, str] = {}

    # shapes -------------------------------------------------------------------------------------------------------
    def raw(self, text: str) -> None:
        """A piece of SVG as it is."""
        self._shapes.append(text)

    def line(
        self, x1: float, y1: float, x2: float, y2: float, cls: str = "dl", stroke: float = 2, dash: str = ""
    ) -> None:
        """A straight line."""
        self._shapes.append(
            f'<line class="{cls}" x1="{num(x1)}" y1="{num(y1)}" x2="{num(x2)}" y2="{num(y2)}"'
            f' stroke-width="{num(stroke)}"{_dash(dash)}/>'
        )

    def path(self, d: str, cls: str = "dl", stroke: float = 2, dash: str = "", join: str = "") -> None:
        """A path given in SVG's own letters."""
        extra = f' stroke-linejoin="{join}"' if join else ""
        self._shapes.append(f'<path class="{cls}" d="{d}" stroke-width="{num(stroke)}"{_dash(dash)}{extra}/>')

    def curve(self, points: Iterable[Pair], cls: str = "dl", stroke: float = 2, dash: str = "") -> None:
        """A line through points."""
        d = _through(points)
        if d:
            self.path(d, cls, stroke, dash, join="round")

    def area(self, points: Sequence[Pair], cls: str) -> None:
        """A filled shape without outline; cls may also be the name a pattern was given by `pattern`."""
        d = _through(points)
        if d:
            self._shapes.append(f'<path {self._fill(cls)} d="{d}Z"/>')

    def rect(
        self, x: float, y: float, wide: float, high: float, cls: str = "df-sand", stroke: float = 0
    ) -> None:
        """An upright box; cls may also be the name of a pattern."""
        edge = f' stroke-width="{num(stroke)}"' if stroke else ""
        self._shapes.append(
            f'<rect {self._fill(cls)} x="{num(x)}" y="{num(y)}"'
            f' width="{num(max(wide, 0))}" height="{num(max(high, 0))}"{edge}/>'
        )

    def ring(self, x: float, y: float, radius: float, cls: str = "ds-ring", stroke: float = 3) -> None:
        """A circle."""
        self._shapes.append(
            f'<circle class="{cls}" cx="{num(x)}" cy="{num(y)}" r="{num(radius)}" stroke-width="{num(stroke)}"/>'
        )

    # text ---------------------------------------------------------------------------------------------------------
    def text(
        self, x: float, y: float, words: str, *, size: float = SMALL, bold: bool = False, italic: bool = False,
        anchor: str = "start", cls: str = "dt", look: str = "", halo: bool = False,
    ) -> float:  # fmt: skip
        """One line of text standing on y; returns its length. look "measured" or "guessed" sets letters and underline."""
        heavy = bold or look == "measured"
        slanted = italic or look == "guessed"
        long = width(words, size, bold=heavy)
        marks = (' font-weight="700"' if heavy else "") + (' font-style="italic"' if slanted else "")
        turn = f' text-anchor="{anchor}"' if anchor != "start" else ""
        if halo:
            start = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * long
            self.rect(start - 3, y - size * 0.82, long + 6, size * 1.1, "df-paper")
        self._shapes.append(
            f'<text class="{cls}" x="{num(x)}" y="{num(y)}" font-size="{num(size)}"{marks}{turn}>{_safe(words)}</text>'
        )
        if look in ("measured", "guessed"):
            start = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * long
            stroke_class = {"dt": "dl", "dt-soft": "dl-soft", "dt-acc": "dl-acc"}.get(cls, "dl")
            dash = "" if look == "measured" else "2 3"
            self.line(start, y + size * 0.2, start + long, y + size * 0.2, stroke_class, 2, dash)
        return long

    def lines(
        self, x: float, y: float, texts: Sequence[str], *, size: float = SMALL, step: float = 0, **how: object
    ) -> float:
        """Lines of text under each other; returns y of the next one."""
        for words in texts:
            self.text(x, y, words, size=size, **how)  # type: ignore[arg-type]
            y += step or size * 1.25
        return y

    # groups, patterns ---------------------------------------------------------------------------------------------
    def open(self, says: str = "", cls: str = "", data: str = "", **more: str) -> None:
        """Begin a group; `says` is shown when a pointer rests on it. more: further data attributes by name."""
        named = {"key": data, **more}
        attributes = (f' class="{cls}"' if cls else "") + "".join(
            f' data-{name}="{_safe(text)}"' for name, text in named.items() if text
        )
        self._shapes.append(f"<g{attributes}>" + (f"<title>{_safe(says)}</title>" if says else ""))

    def close(self) -> None:
        """End of the group."""
        self._shapes.append("</g>")

    def pattern(self, name: str) -> str:
        """Make sure the pattern is carried, and return its name for `rect` and `area`."""
        self._patterns[name] = PATTERNS[name]
        return name

    def _fill(self, cls: str) -> str:
        if cls in self._patterns:
            return f'fill="url(#{self.key}-{cls})"'
        return f'class="{cls}"'

    def svg(
        self, *, standalone: bool = False, palette: Palette = PRINT, cls: str = "", margin: float = 0.0
    ) -> str:
        """The drawing. standalone: with its own colours, size and name space, for a file or a PDF.

        margin: px left free on either side of a file, for programs that lack the letters and take wider ones.
        """
        margin = margin if standalone else 0.0
        full = self.wide + 2 * margin
        patterns = "".join(
            f'<pattern id="{self.key}-{name}" patternUnits="userSpaceOnUse" {body}</pattern>'
            for name, body in self._patterns.items()
        )
        defs = f"<defs>{patterns}</defs>" if patterns else ""
        size = f' width="{num(full)}" height="{num(self.high)}"' if standalone else ""
        style = f"<style>{file_css(palette)}</style>" if standalone else ""
        paper = (
            f'<rect class="df-paper" x="{num(-margin)}" width="{num(full)}" height="{num(self.high)}"/>'
            if standalone
            else ""
        )
        extra = (f" {cls}" if cls else "") + ("" if standalone else f" {room_class(self.wide)}")
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="dw{extra}"'
            f' viewBox="{num(-margin)} 0 {num(full)} {num(self.high)}"{size}'
            f' role="img" aria-labelledby="{self.key}-t {self.key}-d"><title id="{self.key}-t">{_safe(self.title)}</title>'
            f'<desc id="{self.key}-d">{_safe(self.desc)}</desc>{style}{defs}{paper}{"".join(self._shapes)}</svg>'
        )


PATTERNS = {
    # may break: heavy slanted lines
    "hatch": 'width="9" height="9" patternTransform="rotate(45)">'
    '<line class="dl-acc" x1="2" y1="0" x2="2" y2="9" stroke-width="2.5"/>',
    # asleep: dots
    "dots": 'width="9" height="9"><circle class="df-soft" cx="4.5" cy="4.5" r="1.5"/>',
    # tips over: slanted dashes, the other way
    "dashes": 'width="12" height="12" patternTransform="rotate(-45)">'
    '<line class="dl-soft" x1="0" y1="3" x2="7" y2="3" stroke-width="2"/>'
    '<line class="dl-soft" x1="6" y1="9" x2="12" y2="9" stroke-width="2"/>',
    # passes straight through: cross ticks
    "crosses": 'width="12" height="12"><path class="dl-soft" d="M6 2.5V9.5M2.5 6H9.5" stroke-width="1.8"/>',
    # too hot: waves
    "waves": 'width="16" height="10"><path class="dl-acc" d="M0 6Q4 1 8 6T16 6" stroke-width="2"/>',
    # slips: flat lines
    "rungs": 'width="8" height="8"><line class="dl-soft" x1="0" y1="4" x2="8" y2="4" stroke-width="2"/>',
    # not served: chevrons
    "chevrons": 'width="14" height="10"><path class="dl-soft" d="M2 2L6 5L2 8" stroke-width="2"/>',
}


def _dash(dash: str) -> str:
    return f' stroke-dasharray="{dash}"' if dash else ""


def _through(points: Iterable[Pair]) -> str:
    d = ""
    for k, (x, y) in enumerate(points):
        d += f"{'M' if k == 0 else 'L'}{num(x)} {num(y)}"
    return d


def _safe(words: str) -> str:
    """Words as they may stand in a drawing: no mark of its own, no letter that XML forbids."""
    return escape(visible(words), quote=True)
