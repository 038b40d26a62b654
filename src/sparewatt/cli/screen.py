"""What an answer looks like on a terminal: a ruled box, the sentence, bars and tables, then the small print."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable, Sequence

from rich.box import ASCII, HORIZONTALS, SQUARE
from rich.console import Console
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from sparewatt.errors import visible
from sparewatt.present import numbers
from sparewatt.present.numbers import Shown
from sparewatt.rig.outcome import Band
from sparewatt.tasks import Answer, source_lines

__all__ = ["Screen"]

_STYLES = {"measured": "bold", "computed": "", "guessed": "italic"}


class Screen:
    """A terminal (or a file it is sent to). Nothing here computes."""

    def __init__(self, *, inch: bool = False) -> None:
        self.inch = inch
        self.console = Console(highlight=False, soft_wrap=False, emoji=False, markup=False)
        self.ascii_only = not (sys.stdout.encoding or "").lower().startswith("utf")

    def head(self, answer: Answer) -> None:
        """What must be put right first, the verdict in a ruled box, then the sentence."""
        leads = [f for f in answer.first if f["leads"]]
        if leads:
            self.boxed("stop")
            self.console.print(_text(f"Put right first. {self._stops(leads)}", style="bold"))
        if answer.verdict:
            self.boxed(answer.verdict)
        self.console.print(_text(answer.answer, style="bold"))
        under = [f for f in answer.first if not f["leads"]]
        if under:
            self.say(f"Also to put right. {self._stops(under)}")

    def boxed(self, word: str) -> None:
        """One word in a ruled box."""
        box = ASCII if self.ascii_only else SQUARE
        self.console.print(Panel.fit(_text(word, style="bold"), box=box, padding=(0, 1)))

    @staticmethod
    def _stops(found: Sequence[dict[str, object]]) -> str:
        """Two stops with what to do, and how many more there are."""
        told = [f"{f['title']}. {f['short']}" for f in found[:2]]
        more = f" And {len(found) - 2} more: see guard." if len(found) > 2 else ""
        return " ".join(told) + more

    def say(self, text: str, *, style: str = "") -> None:
        """One paragraph, when there is something to say."""
        if text:
            self.console.print(_text(text, style=style))

    def block(self, text: str) -> None:
        """Lines that are laid out already, with their marks."""
        self.console.print()
        self.console.print(Text.from_ansi(text), soft_wrap=True)

    def title(self, text: str) -> None:
        """A heading."""
        self.console.print()
        self.console.print(_text(text, style="underline"))

    def lines(self, texts: Iterable[str], *, mark: str = "- ") -> None:
        """A list."""
        for text in texts:
            grid = Table.grid(padding=0)
            grid.add_column(width=len(mark))
            grid.add_column()
            grid.add_row(mark, _text(text))
            self.console.print(grid)

    def lines_of(self, rows: Iterable[tuple[str, str, str]]) -> None:
        """A numbered list: number, time, sentence."""
        told = list(rows)
        grid = Table.grid(padding=(0, 2, 0, 0))
        for k in (0, 1):
            grid.add_column(
                width=max((len(row[k]) for row in told), default=1), justify="right", no_wrap=True
            )
        grid.add_column()
        for number, when, says in told:
            grid.add_row(number, when, _text(says))
        self.console.print(grid)

    def command(self, before: str, line: str) -> None:
        """A command to be copied: never folded."""
        self.console.print(_text(f"{before}{line}"), soft_wrap=True)

    def table(self, heads: Sequence[str], rows: Iterable[Sequence[str | Text]]) -> None:
        """A table with ruled head."""
        table = Table(
            box=ASCII if self.ascii_only else HORIZONTALS,
            pad_edge=False,
            padding=(0, 2, 0, 0),
            header_style="",
        )
        for head in heads:
            table.add_column(head)
        for row in rows:
            table.add_row(*[cell if isinstance(cell, Text) else _text(cell) for cell in row])
        self.console.print(table)

    def number(self, value: Band | float, unit: str, how: str = "computed", digits: int = 2) -> Text:
        """A number with its mark: measured bold, computed plain, guessed slanted with ~ before it."""
        if isinstance(value, Band):
            if not math.isfinite(value.mid):
                return Text("")
            return self._marked(numbers.band(value, unit, inch=self.inch))
        return (
            Text("")
            if not math.isfinite(value)
            else self._marked(numbers.amount(value, unit, how, inch=self.inch, digits=digits))
        )

    @staticmethod
    def _marked(shown: Shown) -> Text:
        before = "~" if shown.look == "guessed" else ""
        return Text(before + shown.text.replace(numbers.THIN, " "), style=_STYLES[shown.look])

    def foot(self, answer: Answer) -> None:
        """Caveats and sources, last."""
        if answer.caveats:
            self.title("Keep in mind")
            self.lines(answer.caveats)
        if answer.sources:
            self.title("Sources")
            self.lines([line for _key, line in source_lines(answer.sources)])


def _text(words: str, style: str = "") -> Text:
    """Words for the terminal; what was typed or read can hold letters that it would obey."""
    return Text(visible(words), style=style)
