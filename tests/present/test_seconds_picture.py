"""The picture of a scene: one clock, panels that matter, numbers that keep apart, and all of it as text."""

from __future__ import annotations

import dataclasses
import math
import re
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.present import reading, scene_samples

from sparewatt.present.drawings.axes import Axis
from sparewatt.present.drawings.seconds import caption, seconds
from sparewatt.present.drawings.seconds_curve import above, calm, strokes, thin
from sparewatt.present.drawings.seconds_lane import spells
from sparewatt.present.drawings.seconds_marks import flags, rings, spread
from sparewatt.present.drawings.seconds_panels import panels
from sparewatt.present.palette import DARK, LIGHT, PRINT, page_css
from sparewatt.present.words_seconds_rows import HAPPENING_WORDS, Row, rows
from sparewatt.rig.outcome import Stop
from sparewatt.studies.scenes.answers import Happening, SceneAnswer, Side, StepRow

WAYS = {
    "desk": {},
    "phone": {"upright": True},
    "inch": {"inch": True},
    "head": {"head": 3.0},
}
KNOWN = set(re.findall(r"\.(d[tlfsw][a-z0-9-]*)", page_css())) | {"dw-wide", "dw-narrow", "dw"}
SCENES = {name: made() for name, made in scene_samples.ALL.items()}


def _keys(a: SceneAnswer, *, upright: bool = False) -> list[str]:
    return [p.key for p in panels(a, None, upright=upright, inch=False, label="")]


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", SCENES)
def test_every_scene_keeps_the_house_rules(name, way):
    """Title and text alternative, letters of 15 or more, lines of 1.5 to 6, class names only, nothing covers anything."""
    svg = seconds(SCENES[name], **WAYS[way])
    assert reading.tree(svg).find(f"{reading.SVG}title").text.startswith("Second by second: ")
    assert any(letter.isdigit() for letter in reading.desc(svg))
    assert min(w.size for w in reading.words(svg)) >= 15
    strokes_used = [float(s) for s in re.findall(r'stroke-width="([\d.]+)"', svg)]
    assert all(s == 0 or 1.5 <= s <= 6 for s in strokes_used)
    assert not re.search(r"[Gg]radient|filter|\srx=|#[0-9a-f]{6}|rgb| style=|nan|inf\b", svg)
    assert reading.classes(svg) <= KNOWN
    assert reading.overlaps(svg) == []
    assert reading.outside(svg) == []


@pytest.mark.parametrize("upright", [False, True])
def test_two_designs_in_one_picture(upright):
    """The second is dashed and named, not told by its colour, and nothing covers anything."""
    svg = seconds(
        scene_samples.rejection(),
        beside=scene_samples.rejection(clamp=True),
        beside_label="a clamp at 38 V",
        upright=upright,
    )
    dashed = re.findall(r'<path class="(\S+)"[^>]*stroke-dasharray="9 5"', svg)
    assert len(dashed) >= 3
    assert set(dashed) == {"dl"}
    assert "a clamp at 38 V" in reading.desc(svg)
    said = " ".join(w.words for w in reading.words(svg))
    assert "38 V" in said
    assert "dashed" in said
    assert reading.overlaps(svg) == []
    assert reading.outside(svg) == []


@pytest.mark.parametrize("palette", [LIGHT, DARK, PRINT])
def test_standalone_carries_its_own_colours(palette):
    """A picture for a file has a size and its colours, and no property only a page would know."""
    svg = seconds(scene_samples.holds(), standalone=True, palette=palette)
    assert "var(" not in svg
    assert palette.ink in svg
    assert float(reading.tree(svg).get("width")) > 0


@pytest.mark.parametrize("name", SCENES)
@pytest.mark.parametrize("upright", [False, True])
def test_every_number_beside_a_line_is_in_the_text(name, upright):
    """Words that stand in the picture with a number can be heard too; the marks of the axes cannot."""
    svg = seconds(SCENES[name], upright=upright)
    text = reading.desc(svg).replace("\u2009", " ").casefold()
    for node in reading.tree(svg).iter(f"{reading.SVG}text"):
        said = (node.text or "").replace("\u2009", " ")
        if (
            re.fullmatch(r"[\d.\u2212 ]+|\d+ to \d+", said)
            or node.get("class") == "dt-soft"
            or "\u2026" in said
        ):
            continue
        for number in re.findall(r"\d[\d.]*", said):
            assert number in text, (said, number)


# the clock --------------------------------------------------------------------------------------------------------------
def test_the_root_says_where_a_second_lies():
    """data-t0 and data-t1 are the ends of the clock in s, data-x0 and data-x1 the same in px: the last tick stands there."""
    root = reading.tree(seconds(scene_samples.hour()))
    t0, t1, x0, x1 = (float(root.get(f"data-{k}")) for k in ("t0", "t1", "x0", "x1"))
    assert (t0, t1) == (0.0, 3600.0)
    tick = next(
        n for n in root.iter(f"{reading.SVG}text") if n.text == "60" and n.get("text-anchor") == "middle"
    )
    assert float(tick.get("x")) == pytest.approx(x1)
    first = next(
        n for n in root.iter(f"{reading.SVG}text") if n.text == "0" and n.get("text-anchor") == "middle"
    )
    assert float(first.get("x")) == pytest.approx(x0)


@pytest.mark.parametrize(("name", "unit"), [("holds", "seconds"), ("hour", "minutes"), ("ripple", "seconds")])
def test_long_scenes_are_told_in_minutes(name, unit):
    """The clock's unit is one a person would say."""
    assert unit in [w.words for w in reading.words(seconds(SCENES[name]))]


def test_the_head_can_be_moved():
    """The play-head is a group with a name of its own, at its time in px, and hidden until it is asked for."""
    svg = seconds(scene_samples.holds(), head=15.0, key="k")
    root = reading.tree(svg)
    head = next(n for n in root.iter(f"{reading.SVG}g") if n.get("id") == "k-head")
    x0, x1 = float(root.get("data-x0")), float(root.get("data-x1"))
    at = float(re.match(r"translate\(([\d.]+) 0\)", head.get("transform")).group(1))
    assert at == pytest.approx((x0 + x1) / 2, abs=0.1)
    assert head.get("visibility") is None
    assert 'id="seconds-head" data-head="" transform' in seconds(scene_samples.holds())
    assert 'visibility="hidden"' in seconds(scene_samples.holds())


# panels -----------------------------------------------------------------------------------------------------------------
def test_only_panels_that_matter():
    """A stall needs cadence, volts and watts; a tool its speed; an hour its reserve, its warmth and its battery."""
    assert _keys(SCENES["stalls"]) == ["cadence", "volts", "watts"]
    assert _keys(SCENES["holds"]) == ["cadence", "volts", "watts", "amps", "tool"]
    assert _keys(SCENES["hour"]) == ["cadence", "volts", "watts", "amps", "reserve", "heat", "charge"]
    assert _keys(SCENES["hour"], upright=True) == ["cadence", "volts", "watts", "amps", "reserve", "heat"]


def test_a_flat_reserve_is_left_out():
    """What does not move has no panel."""
    a = SCENES["holds"]
    flat = scene_samples.track("reserve", a.times, np.full_like(a.times, 14000.0))
    assert "reserve" not in _keys(dataclasses.replace(a, tracks=(*a.tracks, flat)))


def test_a_rating_stands_where_it_belongs():
    """The lowest rating is drawn in the accent with a hatch above it, as far up as its volts say; one far off is told."""
    a = scene_samples.rejection()
    svg = seconds(a)
    panel = next(p for p in panels(a, None, upright=False, inch=False, label="") if p.key == "volts")
    group = next(n for n in reading.tree(svg).iter(f"{reading.SVG}g") if n.get("data-key") == "volts")
    y = Axis(panel.low, panel.high, float(group.get("data-y0")), float(group.get("data-y1")))
    line = next(n for n in group.iter(f"{reading.SVG}line") if n.get("class") == "dl-acc")
    assert float(line.get("y1")) == pytest.approx(y(45.0), abs=0.1)
    hatch = re.search(r'<rect fill="url\(#seconds-hatch\)"[^>]*y="([\d.]+)"[^>]*height="([\d.]+)"', svg)
    assert float(hatch.group(1)) + float(hatch.group(2)) == pytest.approx(y(45.0), abs=0.2)
    words = [w.words for w in reading.words(svg)]
    assert any("step-up board stands" in w for w in words)
    far = dataclasses.replace(a, limits=(("clamp", 400.0),))
    assert "hatch" not in seconds(far)
    assert "above this picture" in " ".join(w.words for w in reading.words(seconds(far)))


def test_over_a_rating_is_in_the_accent():
    """The stretch of the line above the lowest rating is drawn again in the accent; without one nothing is."""
    heavy = r'<path class="dl-acc"[^>]*stroke-width="5"'
    assert re.search(heavy, seconds(scene_samples.rejection()))
    assert not re.search(heavy, seconds(scene_samples.rejection(clamp=True)))


def test_the_map_of_steady_riding_stands_at_the_edge():
    """A solid ring at the holding point, a hollow one at the tipping point, on the right edge, both named."""
    svg = seconds(scene_samples.holds())
    root = reading.tree(svg)
    found = [n for n in root.iter(f"{reading.SVG}circle") if n.get("r") == "8"]
    solid = [n for n in root.iter(f"{reading.SVG}circle") if n.get("r") == "4"]
    assert len(found) == 2
    assert len(solid) == 1
    assert {float(n.get("cx")) for n in found} == {float(root.get("data-x1"))}
    group = next(n for n in root.iter(f"{reading.SVG}g") if n.get("data-key") == "cadence")
    y = Axis(*(float(group.get(f"data-{k}")) for k in ("v0", "v1", "y0", "y1")))
    assert sorted(float(n.get("cy")) for n in found) == pytest.approx(sorted([y(82), y(44)]), abs=0.1)
    assert float(solid[0].get("cy")) == pytest.approx(y(82), abs=0.1)
    said = [w.words for w in reading.words(svg)]
    assert "holds at 82" in said
    assert "tips over below 44" in said


def test_no_ring_without_a_point():
    """Where steady riding has no point, none is drawn, and the text says why."""
    svg = seconds(scene_samples.stalls())
    assert ' r="8"' not in svg
    assert Stop.STALLS.value in reading.desc(svg)


# numbers on the clock ---------------------------------------------------------------------------------------------------
def _row(number: int, at: float, key: str = "wakes") -> Row:
    return Row(number=number, at=at, until=at, key=key, says=f"thing {number}.")


@given(places=st.lists(st.floats(60, 900), max_size=40))
def test_rings_keep_apart_and_none_is_lost(places):
    """Whatever the times, rings do not cover each other, stay on the line, and every number is in one of them."""
    given_rows = [(_row(k, x), x, x) for k, x in enumerate(sorted(places), 1)]
    found = sorted(rings(given_rows, 50, 910), key=lambda r: r.x)
    for one, other in pairwise(found):
        assert one.x + one.wide / 2 <= other.x - other.wide / 2 + 1e-6
    assert all(r.x - r.wide / 2 >= 50 - 1e-6 and r.x + r.wide / 2 <= 910 + 1e-6 for r in found)
    held = []
    for ring in found:
        first, _, last = ring.words.partition(" to ")
        held += range(int(first), int(last or first) + 1)
    assert held == list(range(1, len(places) + 1))


@given(
    wanted=st.lists(st.tuples(st.floats(0, 100), st.floats(1, 20)), max_size=6).map(
        lambda pairs: sorted(pairs, key=lambda p: p[0])
    )
)
def test_spread_moves_as_little_as_it_can(wanted):
    """Pieces come out in order, inside, apart; and where they are apart already, none is moved."""
    centres, sizes = [c for c, _ in wanted], [s for _, s in wanted]
    placed = spread(centres, sizes, 0, 140)
    assert placed is not None
    ends = [(x - s / 2, x + s / 2) for x, s in zip(placed, sizes, strict=True)]
    assert all(a[1] <= b[0] + 1e-6 for a, b in pairwise(ends))
    assert all(a >= -1e-6 and b <= 140 + 1e-6 for a, b in ends)
    own = [(c - s / 2, c + s / 2) for c, s in wanted]
    if all(a[1] < b[0] for a, b in pairwise(own)) and all(a >= 0 and b <= 140 for a, b in own):
        assert placed == pytest.approx(centres)


def test_too_much_for_the_line_is_said():
    """Pieces longer together than the line have no places."""
    assert spread([1, 2], [10, 10], 0, 15) is None


@given(
    steps=st.lists(
        st.tuples(
            st.floats(60, 860), st.sampled_from(["switch the saw on", "stop", "lean on it with all you have"])
        ),
        max_size=16,
    )
)
def test_flags_keep_apart(steps):
    """Boxes and words of flags share no place, and no pole runs through another flag's words."""
    told = [
        (Row(number=k, at=x, until=x, key="script", says=words, told=True), x)
        for k, (x, words) in enumerate(sorted(steps), 1)
    ]
    found, used = flags(told, 2, 1078, 3)
    assert used <= 3
    for k, one in enumerate(found):
        first, last = one.span
        assert first >= 2
        assert last <= 1078
        for other in found[k + 1 :]:
            a, b = one.span, other.span
            if one.row == other.row:
                assert a[1] <= b[0] or b[1] <= a[0]
            else:
                high, low = (one, other) if one.row < other.row else (other, one)
                assert high.x == low.x or not low.span[0] < high.x < low.span[1]


def test_what_can_hurt_stands_out():
    """The ring of a stall is in the accent and heavier than the others."""
    svg = seconds(scene_samples.stalls())
    assert re.findall(r'<circle class="ds-boxacc"[^>]*stroke-width="3"', svg)
    assert re.findall(r'<circle class="ds-ring"[^>]*r="12" stroke-width="2"', svg)


def test_an_hour_of_happenings_is_counted():
    """Thousands of happenings become a few rows, and the picture stays small."""
    t = np.linspace(0, 1200, 2000)
    events = tuple(
        Happening(at=0.25 * k, key="freewheel_opens" if k % 2 else "freewheel_takes", says="")
        for k in range(4000)
    )
    a = scene_samples.scene(
        t, [scene_samples.track("cadence", t, np.full_like(t, 6.0), ripple=0.5)], happenings=events
    )
    assert len(rows(a)) == 3
    assert rows(a)[-1].times == 1999
    assert len(seconds(a)) < 60_000


def test_the_board_asleep_is_dotted():
    """Sleep lasts from `sleeps` to `wakes`; a board first heard of when it wakes slept from the start."""
    t = np.linspace(0, 10, 50)
    a = scene_samples.scene(
        t,
        [scene_samples.track("cadence", t, t)],
        happenings=tuple(
            Happening(at=at, key=key, says="")
            for at, key in ((2.0, "wakes"), (5.0, "sleeps"), (6.5, "wakes"))
        ),
    )
    assert [(s.pattern, s.start, s.end) for s in spells(a)] == [("dots", 0.0, 2.0), ("dots", 5.0, 6.5)]


# lines ------------------------------------------------------------------------------------------------------------------
@given(
    y=st.lists(st.floats(0, 100), min_size=2, max_size=400),
)
def test_a_thinned_line_keeps_its_ends_and_its_extremes(y):
    """What is left out moves the line by less than a px; the highest and lowest points of every px stay."""
    values = np.array(y)
    x = np.linspace(0, 50, values.size)
    px, py = thin(x, values)
    assert px.size <= x.size
    assert (px[0], px[-1]) == (x[0], x[-1])
    assert py.max() == pytest.approx(values.max(), abs=0.9)
    assert py.min() == pytest.approx(values.min(), abs=0.9)
    assert np.all(np.diff(px) >= 0)


def test_a_line_is_cut_where_it_crosses_a_rating():
    """Hand: from (0, 10) to (10, -10) an edge at 0 is crossed at 5."""
    (one,) = above(np.array([0.0, 10.0]), np.array([10.0, -10.0]), 0.0)
    assert one == [(5.0, 0.0), (10.0, -10.0)]
    assert above(np.array([0.0, 10.0]), np.array([10.0, 20.0]), 0.0) == []


def test_what_swings_too_fast_is_a_mean_with_ripple():
    """Two beats a second over ten minutes: the line is their mean, the strokes their swing; slow beats stay as they are."""
    t = np.linspace(0, 600, 6000)
    beats = scene_samples.scene(t, [scene_samples.track("cadence", t, 7 + 2 * np.sin(4 * math.pi * t))])
    line = panels(beats, None, upright=False, inch=False, label="")[0].lines[0]
    calmed = calm(line, 800 / 600, 2.0, [])
    turn = scene_samples.TURN
    assert np.abs(calmed.v[50:-50] * turn - 7).max() < 0.2
    assert calmed.most[3000] * turn == pytest.approx(9, abs=0.2)
    assert calmed.least[3000] * turn == pytest.approx(5, abs=0.2)
    assert np.array_equal(calm(line, 800.0, 2.0, []).v, line.v)


def test_nothing_is_averaged_over_a_step():
    """Before the step the line keeps its level: what you do is not seen before you do it."""
    t = np.linspace(0, 600, 6000)
    level = np.where(t < 300, 5.0, 9.0) + np.sin(4 * math.pi * t)
    a = scene_samples.scene(t, [scene_samples.track("cadence", t, level)])
    line = panels(a, None, upright=False, inch=False, label="")[0].lines[0]
    calmed = calm(line, 800 / 600, 2.0, [300.0])
    assert calmed.v[2990] * scene_samples.TURN == pytest.approx(5, abs=0.35)
    assert calmed.v[3010] * scene_samples.TURN == pytest.approx(9, abs=0.35)


def test_ripple_is_seen_between_far_samples():
    """Ten samples over the whole picture still show a ripple everywhere; without one there is no stroke."""
    t = np.linspace(0, 10, 10)
    swinging = scene_samples.scene(t, [scene_samples.track("cadence", t, np.full_like(t, 8.0), ripple=2.0)])
    still = scene_samples.scene(t, [scene_samples.track("cadence", t, np.full_like(t, 8.0))])
    x = Axis(0, 10, 50, 850)
    for a, seen in ((swinging, True), (still, False)):
        panel = panels(a, None, upright=False, inch=False, label="")[0]
        found = strokes(panel.lines[0], x, Axis(panel.low, panel.high, 150, 0), 1.0)
        assert bool(found) == seen
        if seen:
            assert max(b[0] - a[0] for a, b in pairwise(found)) <= 4.5
            assert found[-1][0] - found[0][0] > 780


# anything ---------------------------------------------------------------------------------------------------------------
numbers = st.floats(-1e6, 1e6) | st.just(math.nan) | st.just(math.inf)

boards = st.sampled_from(["board", "the blue step-up board from the shed"])


@st.composite
def answers(draw):
    """Any scene: few or many samples, numbers missing, happenings and steps anywhere."""
    n = draw(st.integers(0, 30))
    last = draw(st.sampled_from([0.5, 20.0, 400.0, 9000.0]))
    t = np.linspace(0, last, n)
    tracks = []
    for key in draw(st.lists(st.sampled_from(sorted(scene_samples.NAMES)), unique=True, max_size=8)):
        values = np.array(draw(st.lists(numbers, min_size=n, max_size=n)), dtype=float)
        name, unit = scene_samples.NAMES[key]
        swing = draw(st.sampled_from([0.0, 3.0]))
        band = draw(st.booleans()) and n > 0
        mid = np.linspace(0, 100, 5)
        tracks.append(
            scene_samples.Track(
                key=key,
                name=name,
                unit=unit,
                values=values,
                least=values - swing,
                most=values + swing,
                low=mid - 5 if band else None,
                high=mid + 5 if band else None,
            )
        )
    base = scene_samples.scene(np.linspace(0, last, 2), [])
    load = draw(st.sampled_from(["saw", "charge", "the big circular saw with the long name from the shed"]))
    return dataclasses.replace(
        base,
        ask=dataclasses.replace(base.ask, load=load),
        times=t,
        duration=last,
        tracks=tuple(tracks),
        spread_times=np.linspace(0, last, 5),
        happenings=tuple(
            Happening(at=draw(st.floats(0, last)), key=key, says=draw(st.sampled_from(["", "it does <that>"])),
                      unit_of=draw(st.integers(0, 2)), value=draw(numbers))
            for key in draw(st.lists(st.sampled_from([*HAPPENING_WORDS, "new_key"]), max_size=12))
        ),
        steps=tuple(
            StepRow(at=draw(st.floats(0, last)), text="", understood=draw(st.sampled_from(["pull the plug", "lean & wait"])))
            for _ in range(draw(st.integers(0, 5)))
        ),
        limits=tuple((draw(boards), draw(numbers)) for _ in range(draw(st.integers(0, 3)))),
        steady=Side(w_hold=draw(numbers), w_tip=draw(numbers), stop=draw(st.sampled_from(list(Stop)))),
    )  # fmt: skip


@settings(deadline=None, max_examples=60)
@given(a=answers(), upright=st.booleans(), beside=st.booleans(), head=st.none() | st.floats(-5, 1e4))
def test_any_scene_can_be_drawn(a, upright, beside, head):
    """No scene breaks the picture: it is well-formed, stays on its sheet, and no words cover others."""
    svg = seconds(a, beside=a if beside else None, upright=upright, head=head)
    assert reading.overlaps(svg) == []
    assert reading.outside(svg) == []
    assert not re.search(r'="[^"]*\b(nan|inf)\b', svg)
    assert reading.desc(svg)


def test_a_scene_without_lines_is_a_sentence():
    """Nothing recorded: the picture says so."""
    empty = dataclasses.replace(scene_samples.holds(), times=np.empty(0), tracks=(), spread_times=np.empty(0))
    assert "nothing to draw" in reading.words(seconds(empty))[0].words
    assert "nothing to draw" in caption(empty)


def test_names_from_a_file_are_escaped():
    """What a person wrote stands in the picture as written, not as marks."""
    a = dataclasses.replace(scene_samples.holds(), name="<b>saw & co</b>")
    root = reading.tree(seconds(a))
    assert "<b>saw & co</b>" in root.find(f"{reading.SVG}title").text
