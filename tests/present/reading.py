"""Reads a drawing back: its words with the boxes they cover, its sizes and classes."""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree import ElementTree as ET

from sparewatt.present.drawings.letters import width

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Word:
    words: str
    size: float
    x0: float
    y0: float
    x1: float
    y1: float

    def touches(self, other: Word) -> bool:
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1


def tree(svg: str) -> ET.Element:
    """The parsed drawing."""
    return ET.fromstring(svg)


def words(svg: str) -> list[Word]:
    """Every line of text with the box it covers."""
    found = []
    for node in tree(svg).iter(f"{SVG}text"):
        size, text = float(node.get("font-size", "0")), node.text or ""
        long = width(text, size, bold=node.get("font-weight") == "700")
        x = (
            float(node.get("x", "0"))
            - {"start": 0, "middle": 0.5, "end": 1}[node.get("text-anchor", "start")] * long
        )
        y = float(node.get("y", "0"))
        # the inked part of a line: tall letters reach 0.70 of the size up, tails 0.18 down
        found.append(Word(text, size, x, y - 0.70 * size, x + long, y + 0.18 * size))
    return found


def overlaps(svg: str) -> list[tuple[str, str]]:
    """Pairs of lines that cover each other."""
    all_words = words(svg)
    return [(a.words, b.words) for k, a in enumerate(all_words) for b in all_words[k + 1 :] if a.touches(b)]


def outside(svg: str) -> list[str]:
    """Lines that leave the sheet."""
    _, _, wide, high = map(float, tree(svg).get("viewBox", "").split())
    return [w.words for w in words(svg) if w.x0 < -1 or w.y0 < -1 or w.x1 > wide + 1 or w.y1 > high + 1]


def classes(svg: str) -> set[str]:
    """All class names used."""
    return {name for node in tree(svg).iter() for name in node.get("class", "").split()}


def desc(svg: str) -> str:
    """The text alternative."""
    node = tree(svg).find(f"{SVG}desc")
    return (node.text or "") if node is not None else ""
