"""The one object that feeds terminal, JSON, page and paper."""

from __future__ import annotations

from dataclasses import dataclass

from sparewatt.parts import Rig

__all__ = ["Answer"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One question answered.

    answer: the sentence; verdict: one of the fixed words or None; results: JSON-ready numbers with SI unit suffixes and
    5 %/95 % bounds (never a non-finite number: null with a `why` beside it); study: the frozen result the pages and sheets
    draw from; first: what must be put right before anything of it is ridden; rig: the rig with typical values filled in;
    origin: the folder or file it came from.
    """

    section: str
    answer: str
    verdict: str | None
    results: dict[str, object]
    nearest_yes: tuple[dict[str, object], ...]
    caveats: tuple[str, ...]
    sources: tuple[str, ...]
    study: object
    rig: Rig
    origin: str = ""
    first: tuple[dict[str, object], ...] = ()

    @property
    def check(self) -> str | None:
        """ "stop" where something must be put right before any of it is ridden."""
        return "stop" if any(f["leads"] for f in self.first) else None

    def as_dict(self) -> dict[str, object]:
        """The published JSON object."""
        return {
            "ok": True,
            "section": self.section,
            "answer": self.answer,
            "verdict": self.verdict,
            "put_right_first": list(self.first),
            "results": self.results,
            "nearest_yes": list(self.nearest_yes),
            "caveats": list(self.caveats),
            "sources": list(self.sources),
        }
