"""The fault-finder on any rig a person could write, with any readings: shares that sum to one, and sentences."""

from __future__ import annotations

import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.studies.test_any_rig import rig_texts

from sparewatt.errors import SparewattError
from sparewatt.files import read_text
from sparewatt.language.moment import FEELS, JOINED, Moment
from sparewatt.present import words_mend as words
from sparewatt.rig.bind import gear_names
from sparewatt.studies.mend.causes import mend

NAN = math.nan


def maybe(low: float, high: float) -> st.SearchStrategy[float]:
    """A number, or none."""
    return st.one_of(st.just(NAN), st.floats(low, high))


@st.composite
def moments(draw: st.DrawFn, gears: tuple[str, ...], loads: tuple[str, ...]) -> Moment:
    """Any handful of values read together, sensible or not."""
    return Moment(
        cadence=draw(maybe(0.5, 18)), speed=draw(maybe(1, 900)), volts=draw(maybe(-60, 200)), amps=draw(maybe(-5, 30)),
        volts_out=draw(maybe(0, 240)), amps_out=draw(maybe(-5, 30)), heat=draw(maybe(260, 400)),
        feel=draw(st.sampled_from(["", *FEELS])), effort=draw(maybe(5, 400)), ridden=draw(maybe(0, 7200)),
        gear=draw(st.sampled_from(["", *gears])), load=draw(st.sampled_from(["", *loads])),
        joined=draw(st.sampled_from(JOINED)), drill=draw(st.sampled_from([False, False, False, True])),
        fine=draw(st.booleans()), amps_meter=draw(st.sampled_from(["", "clamp", "yellow"])),
    )  # fmt: skip


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(text=rig_texts(), data=st.data())
def test_any_readings_on_any_rig_are_answered(text: str, data: st.DataObject) -> None:
    """Never a crash, never a share that is no number, and every sentence can be said."""
    rig = read_text(text).rig
    loads = tuple(load.name for load in rig.load)
    read = data.draw(st.lists(moments(gear_names(rig), loads), min_size=1, max_size=5))
    try:
        m = mend(rig, read, better=False)
    except SparewattError:
        return
    shares = [c.likelihood for c in m.answer.causes]
    assert all(math.isfinite(s) and s >= 0 for s in shares)
    assert abs(sum(shares) - 1) < 1e-9
    assert shares == sorted(shares, reverse=True)
    assert "nan" not in words.mend_answer(m).casefold().split()
    for c, more in zip(m.answer.causes[:3], m.more, strict=False):
        assert words.cause(m.answer, c, more)
    for s in m.answer.signs:
        assert words.sign(s)
