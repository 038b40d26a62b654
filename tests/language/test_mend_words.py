"""Moments of a ride as typed: what people write is read, what cannot be read is named, and nothing breaks the reader."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.moment import FEELS, Moment, moment_text
from sparewatt.language.moment_reader import MOST_LETTERS, MOST_MOMENTS, moment_of, moments_told

RPM = 2 * math.pi / 60
PIECES = re.findall(
    r"\S+",
    """cadence volts amps out feel hard in gear 42/18 load charge at 62 11.4 V A rpm = : , ; +/- . 0,5 -3 drill nothing
    joined well " ' behind the board machine very easy after min °C kW e 1e9""",
)
GEARS, LOADS = ("42/18", "42/12"), ("tyre pump", "charge")


def read(text: str) -> Moment:
    """The moment on a rig with two gears and two loads."""
    return moment_of(text, gears=GEARS, loads=LOADS)


def refused(text: str) -> str:
    """What is said of a moment that cannot be read."""
    with pytest.raises(BadRequest) as caught:
        read(text)
    return " ".join(p.sentence() for p in caught.value.problems)


@pytest.mark.parametrize(
    "text",
    [
        "cadence 62, 11.4 V, 3.1 A, heavy",
        "cadence=62rpm volts=11.4V amps=3.1A feel=hard",
        "62 turns a minute; 11.4 volts; 3.1 amps; hard",
        "crank 62, machine volts 11,4, current 3.1, feels 'hard'",
        "It was hard with cadence: 62 and 11.4V and 3.1A.",
        "hard 62rpm 11400mV 3100mA",
        "amps 3.1 in 42/18 at 62 rpm volts 11.4 hard",
    ],
)
def test_one_moment_said_in_many_ways_is_the_same(text: str) -> None:
    """Names or units, commas or spaces, decimal point or comma."""
    m = read(text)
    assert m.cadence == pytest.approx(62 * RPM)
    assert (m.volts, m.amps, m.feel) == (pytest.approx(11.4), pytest.approx(3.1), "hard")


def test_everything_that_can_be_told_is_read() -> None:
    """Both sides of the board, the case, the time, the gear, the load, the meters, a stamp, a spread."""
    m = read(
        "14:05, 62 rpm, 900 rpm at the machine, 11.4 +/- 0.2 V, 13.1 V out, 3 A, 2.2 A behind the board, case 45 °C, "
        "after 20 min, in 42/18, running tyre pump, amps meter clamp, effort 90 W"
    )
    assert m.at == "14:05"
    assert (m.speed, m.volts_out, m.amps_out) == (
        pytest.approx(900 * RPM),
        pytest.approx(13.1),
        pytest.approx(2.2),
    )
    assert (m.heat, m.ridden, m.effort) == (pytest.approx(318.15), pytest.approx(1200), pytest.approx(90))
    assert (m.gear, m.load, m.amps_meter, m.volts_meter) == ("42/18", "tyre pump", "clamp", "")
    assert dict(m.spreads)["volts"] == pytest.approx(0.2)


def test_what_is_joined_and_who_turns_it_is_read() -> None:
    """Nothing joined, a lamp, a drill; well says it is from before."""
    assert read("by drill, 900 rpm at the machine, 8 V, nothing joined").drill
    assert read("by drill, 900 rpm at the machine, 8 V, nothing joined").joined == "nothing"
    assert read("lamp joined, 60 rpm, 8 V, 2 A").joined == "lamp"
    assert read("when well: 60 rpm, 12 V").fine


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("cadance 60 rpm", 'did you mean "cadence"?'),
        ("12.4", "this number does not say what it is"),
        ("volts=abc", "volts wants a number"),
        ("cadence sixty", "cadence wants a number"),
        ("11 V, 12 V", "volts stands there twice"),
        ("cadence 62 rpm, volts 3 kW", "measures something else"),
        ("cadence 900", "0 to 300 turns a minute"),
        ("feel=awful", "no feel that is known here"),
        ("gear 9/9, 12 V", "gears here: 42/18, 42/12"),
        ("load=pumpe, 12 V", 'did you mean "tyre pump"?'),
        ("joined=soup, 12 V", "load, nothing, lamp"),
        ("", "there is no reading in it"),
        ("in 42/18", "there is no reading in it"),
        ("lamp joined, 8 V", "the amps are needed too"),
        ("x" * (MOST_LETTERS + 1), "too long for one moment"),
    ],
)
def test_what_cannot_be_read_is_named(text: str, says: str) -> None:
    """Each says what is wrong and what would be read."""
    assert says in refused(text)


def test_all_of_it_is_named_at_once() -> None:
    """Two moments with three things to put right: three sentences, each with its moment."""
    with pytest.raises(BadRequest) as caught:
        moments_told(["62 rpm, volts=abc", "cadance 60, 12"], ["60 rpm, 12 V"], gears=GEARS, loads=LOADS)
    places = [p.where for p in caught.value.problems]
    assert len(places) >= 3
    assert set(places) == {"moment 1", "moment 2"}
    with pytest.raises(BadRequest, match="more than are read"):
        moments_told(["60 rpm, 12 V"] * (MOST_MOMENTS + 1), gears=GEARS, loads=LOADS)


def maybe(low: float, high: float) -> st.SearchStrategy[float]:
    """A number of few digits, or none."""
    return st.one_of(st.just(math.nan), st.floats(low, high).map(lambda x: float(f"{x:.3g}")))


@given(
    cadence=maybe(5, 200), volts=maybe(-90, 200), amps=maybe(-20, 60), out=maybe(1, 60), ridden=maybe(1, 600),
    feel=st.sampled_from(("", *FEELS)), gear=st.sampled_from(("", *GEARS)), load=st.sampled_from(("", *LOADS)),
    joined=st.sampled_from(("load", "nothing")), meter=st.sampled_from(("", "yellow", "old clamp")),
)  # fmt: skip
def test_a_moment_written_out_is_read_back(
    cadence: float, volts: float, amps: float, out: float, ridden: float, feel: str, gear: str, load: str, joined: str,
    meter: str,
) -> None:  # fmt: skip
    """Text of a moment gives the moment again, to the digits shown."""
    m = Moment(
        cadence=cadence * RPM, volts=volts, amps=amps, volts_out=out, ridden=ridden * 60, feel=feel, gear=gear, load=load,
        joined=joined, volts_meter=meter, amps_meter=meter,
    )  # fmt: skip
    if not feel and all(math.isnan(x) for x in (cadence, volts, amps, out)):
        assert "no reading in it" in refused(moment_text(m))
        return
    back = read(moment_text(m))
    for name in ("cadence", "volts", "amps", "volts_out", "ridden"):
        assert getattr(back, name) == pytest.approx(getattr(m, name), rel=1e-3, abs=1e-3, nan_ok=True)
    for name in ("feel", "gear", "load", "joined", "volts_meter", "amps_meter"):
        assert getattr(back, name) == getattr(m, name)


@settings(max_examples=300)
@given(
    st.one_of(
        st.text(max_size=80),
        st.lists(
            st.sampled_from(PIECES),
            max_size=12,
        ).map(" ".join),
    )
)
def test_whatever_is_typed_is_read_or_refused_in_words(text: str) -> None:
    """No text breaks the reader, and every refusal says where, what and what to try."""
    problems: tuple[Problem, ...] = ()
    m = Moment(feel="hard")
    try:
        m = read(text)
    except BadRequest as bad:
        problems = bad.problems
    assert all(p.where and p.problem and p.sentence() for p in problems)
    assert m.feel or any(
        math.isfinite(getattr(m, what))
        for what in ("cadence", "speed", "volts", "amps", "volts_out", "amps_out", "heat")
    )
