"""Stand-in for the fault-finder: its real reading of words, and made causes, so that the page can be tested alone."""

from __future__ import annotations

import math
from typing import Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.files import Loaded
from sparewatt.language.moment import Moment
from sparewatt.language.moment_reader import EXAMPLE, moments_told
from sparewatt.parts import Rig
from sparewatt.present import words_mend
from sparewatt.rig.bind import gear_names
from sparewatt.rig.fill import fill
from sparewatt.rig.outcome import Band, Caveat
from sparewatt.studies.bench.answers import Cause, Improvement, MendAnswer, NextReading, Sign
from sparewatt.studies.mend.answers import CauseMore, Foretold, Mended, Told, Trial
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.keys import flatten
from sparewatt.tasks.keys_mend import MEND, Ranked

__all__ = ["made", "mend", "mend_moments"]

NAN = math.nan
TRIAL = Trial(
    key="count", do="film crank and machine and count both", minutes=5, bits=0.9, unit="V",
    one=Told(band=Band(12.0, 11.0, 13.0)), other=Told(band=Band(16.0, 15.0, 17.0)), shows="volts",
)  # fmt: skip


def _cause(key: str, name: str, share: float, other: str, stops: bool = False) -> Cause:
    return Cause(
        key=key, name=name, likelihood=share, explanation="It turns slower than it should.", check=TRIAL.do,
        if_so="it reads lower", if_not="it reads higher", separates=other, minutes=5.0, stops=stops,
    )  # fmt: skip


def _foretold(n: int, m: Moment, mid: float) -> tuple[Foretold, ...]:
    if not math.isfinite(m.volts):
        return ()
    band = Band(mid, 0.9 * mid, 1.1 * mid)
    return (Foretold(moment=n, what="volts", seen=m.volts, band=band, unit="V", off=(m.volts - mid) / 0.5),)


def made(moments: tuple[Moment, ...]) -> Mended:
    """Three causes and two changes; volts below zero make the first one a matter for stopping."""
    better = (
        Improvement(key="oil", says="oil the bearings", watts=Band(4.0, 2.0, 6.0), cost=0.0, work=1800.0,
                    per_coin=math.inf, per_hour=8.0, edits=(("stage.0.drag_torque", "0.1 N*m"),)),
        Improvement(key="pulley", says="put in a pulley of 57 mm", watts=Band(9.0, -1.0, 20.0), cost=6.0, work=2700.0,
                    per_coin=1.5, per_hour=12.0, caveat="line it up"),
    )  # fmt: skip
    if not moments:
        answer = MendAnswer(
            rig="House on stilts",
            signs=(),
            causes=(),
            healthy=NAN,
            improvements=better,
            says="",
            sources=("dc_machine",),
        )
        return Mended(answer=answer, moments=(), more=())
    stops = any(m.volts < 0 for m in moments)
    causes = (
        _cause("slip", "the rim belt slips", 0.6, "wrong_number", stops),
        _cause("wrong_number", "a number in the rig file is wrong", 0.3, "slip"),
        _cause("normal", "nothing is wrong", 0.1, "slip"),
    )
    gives = {"slip": 11.6, "wrong_number": 11.2, "normal": 15.0}
    more = tuple(
        CauseMore(
            key=c.key, prior=0.3, support=1.0, size=Band(0.2, 0.1, 0.3), unit="1", trial=TRIAL,
            foretold=tuple(f for n, m in enumerate(moments) for f in _foretold(n, m, gives[c.key])),
            number="stage.1.driven_diameter" if c.key == "wrong_number" else "", value=0.057, value_unit="m",
        )
        for c in causes
    )  # fmt: skip
    signs = tuple(
        Sign(what="volts", seen=m.volts, expected=Band(15.0, 14.0, 16.0), unit="V", z=-3.0, says=m.at)
        for m in moments
        if math.isfinite(m.volts)
    )
    answer = MendAnswer(
        rig="House on stilts", signs=signs, causes=causes, healthy=0.1, improvements=better, says="",
        sources=("dc_machine",),
        missing=(NextReading(what="count the turns", procedure="ride", why="", gain=0.5, minutes=5.0, gain_per_minute=0.1),),
        caveats=(Caveat("mend", "one thing at a time is taken to be wrong"),),
    )  # fmt: skip
    return Mended(answer=answer, moments=moments, more=more)


def mend(
    place: Loaded, *, moments: Any = (), well: Any = (), load: str | None = None, **_asked: Any
) -> Answer:
    """The causes above for whatever is typed, once it can be read."""
    from tests.web.fake_tasks import calls

    calls.append(("mend", {"moments": moments, "well": well, "load": load, **_asked}))
    rig: Rig = fill(place.rig).rig
    if load == "ghost":
        raise BadRequest(Problem("load", "there is no load by this name.", "lamp", load))
    read = moments_told(moments, well, gears=gear_names(rig), loads=tuple(x.name for x in rig.load))
    found = made(read)
    right = tuple(((m.number, "57 mm"),) if m.number else () for m in found.more)
    ranked = Ranked(found=found, right=right, against=("slip",) if read else ())
    says = words_mend.mend_answer(found) if read else words_mend.nothing_read(found.answer, EXAMPLE)
    verdict = ("stop" if words_mend.stops(found.answer) else "look again") if read else None
    return Answer(
        section="mend", answer=says, verdict=verdict, results=flatten(MEND, ranked), nearest_yes=(), caveats=(),
        sources=("dc_machine",), study=ranked, rig=rig, origin=str(place.path or ""),
    )  # fmt: skip


def mend_moments(place: Loaded, **_asked: Any) -> tuple[Moment, ...]:
    """No readings are kept."""
    return ()
