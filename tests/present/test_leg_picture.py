"""The leg picture: rings where the lines cross, labels that keep apart, and a picture even where there is no point."""

from __future__ import annotations

import dataclasses
import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.present import reading, samples

from sparewatt.present.drawings import labels
from sparewatt.present.drawings.labels import Box, Label
from sparewatt.present.drawings.leg import caption, leg_picture

turns = st.floats(20.0, 140.0)


@st.composite
def answers(draw):
    """Any leg picture: strong and weak riders, light and too heavy loads, limits anywhere or nowhere."""
    best = draw(st.floats(40.0, 320.0))
    pic, hold, _tip = samples.picture(
        best=best,
        top=draw(st.floats(95.0, 150.0)),
        load=best * draw(st.floats(0.2, 1.4)),
        wakes=draw(turns | st.just(math.nan)),
        passes=draw(turns | st.just(math.nan)),
        breaks=draw(turns | st.just(math.nan)),
        comfortable=draw(st.floats(50.0, 85.0)),
    )
    spare = samples.band(20.0) if math.isfinite(hold) else samples.Band(-20.0, -30.0, -10.0)
    return dataclasses.replace(
        samples.match(),
        picture=pic,
        hold=samples.band(hold) if math.isfinite(hold) else samples.NONE,
        spare=spare,
    )


@given(answer=answers(), wide=st.sampled_from([640.0, 600.0, 344.0]))
def test_no_label_covers_another(answer, wide):
    """Over many answers and both widths no two lines of text touch, and none leaves the sheet."""
    svg = leg_picture(answer, wide=wide)
    assert reading.overlaps(svg) == []
    assert reading.outside(svg) == []


@given(answer=answers())
def test_rings_stand_on_the_crossings(answer):
    """One ring a crossing, where the crossing is, the solid one for the holding point."""
    svg = leg_picture(answer, lanes=False)
    rings = [
        (float(x), float(y))
        for x, y in re.findall(r'<circle class="ds-ring" cx="([\d.]+)" cy="([\d.]+)" r="9"', svg)
    ]
    solid = [
        (float(x), float(y))
        for x, y in re.findall(r'<circle class="df-ink" cx="([\d.]+)" cy="([\d.]+)" r="4.5"', svg)
    ]
    kinds = [cross.kind for cross in answer.picture.crossings]
    assert len(rings) == len(kinds)
    assert len(solid) == kinds.count("holds")
    if len(kinds) == 2:
        (hold, _), (tip, _) = rings
        fast, slow = (cross.w_crank / samples.TURN for cross in answer.picture.crossings)
        span = 640 - 12 - (46 if hold else 0)
        assert (hold - tip) / span == pytest.approx((fast - slow) / 140, abs=0.01)


def test_short_of_legs_is_said_in_the_picture():
    """Where the load is too much, the gap is drawn and named, and the sentence says why."""
    answer = samples.match(stalls=True)
    joined = " ".join(w.words for w in reading.words(leg_picture(answer)))
    assert "short by 8 to 35\u2009W" in joined
    assert answer.stop.value in caption(answer)


def test_an_answer_without_lines_is_a_sentence():
    """A load that is refused has no lines; the drawing says so instead of failing."""
    none = np.empty(0)
    pic = dataclasses.replace(
        samples.match().picture,
        cadence=none,
        rider=none,
        rider_low=none,
        rider_high=none,
        load=none,
        crossings=(),
    )
    svg = leg_picture(dataclasses.replace(samples.match(), picture=pic))
    assert "no lines to draw" in " ".join(w.words for w in reading.words(svg))


def test_every_gear_has_its_lane():
    """The gears stand under the axis with what each changes, the chosen one in bold."""
    svg = leg_picture(samples.match())
    lanes = [w for w in reading.words(svg) if w.words in samples.GEARS]
    assert [w.words for w in lanes] == list(samples.GEARS)
    assert re.search(r'font-weight="700"[^>]*>42/16<', svg)
    assert not re.search(r'font-weight="700"[^>]*>42/18<', svg)


def test_pinned_by_a_battery():
    """A load line that rises like a wall is drawn, with one ring and no tipping point."""
    pic, _, _ = samples.picture()
    w = pic.cadence
    load = np.where(w > 52 * samples.TURN, (w - 52 * samples.TURN) * 40, np.nan)
    cross = samples.Crossing(kind="holds", w_crank=57 * samples.TURN, torque_crank=20.9)
    answer = dataclasses.replace(
        samples.match(), picture=dataclasses.replace(pic, load=load, crossings=(cross,)), spare=samples.NONE
    )
    svg = leg_picture(answer)
    assert svg.count('r="9"') == 1
    assert reading.overlaps(svg) == []


boxes = st.tuples(st.floats(0, 300), st.floats(0, 200))


@given(points=st.lists(boxes, min_size=1, max_size=14), ink=st.lists(boxes, max_size=60))
def test_placed_labels_keep_apart(points, ink):
    """Whatever is asked, placed boxes never overlap, stay in the frame, and none is lost: it is placed or handed back."""
    wanted = [Label(words=f"label number {k} of a few", anchors=[p]) for k, p in enumerate(points)]
    frame = Box(0, 0, 320, 220)
    placed, left = labels.place(wanted, frame, ink=ink)
    assert len(placed) + len(left) == len(wanted)
    for k, one in enumerate(placed):
        assert one.box.x0 >= frame.x0
        assert one.box.y0 >= frame.y0
        assert one.box.x1 <= frame.x1 + 0.1
        assert one.box.y1 <= frame.y1 + 0.1
        assert not any(one.box.touches(other.box) for other in placed[k + 1 :])


def test_a_far_label_gets_a_leader():
    """A label pushed away from its point is tied to it by a line."""
    placed, _ = labels.place(
        [Label(words="far", anchors=[(50, 50)])], Box(0, 0, 300, 200), blocked=[Box(0, 0, 100, 100)]
    )
    assert placed[0].leader is not None
