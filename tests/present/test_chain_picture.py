"""The chain picture: widths are watts, tolls are named, what binds is marked, and nothing is written over anything else."""

from __future__ import annotations

import dataclasses
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.present import reading, samples

from sparewatt.present.drawings import chain as pictures
from sparewatt.rig.outcome import Link

DRAWERS = [pictures.chain, pictures.chain_upright]
CHAINS = {"eight": samples.chain(), "ten": samples.long_chain(), "backwards": samples.short_chain()}


@pytest.mark.parametrize("draw", DRAWERS)
@pytest.mark.parametrize("name", CHAINS)
def test_no_words_cover_others(draw, name):
    """No two lines of text touch, and none leaves the sheet, along or upright, forwards, backwards or not known."""
    svg = draw(CHAINS[name])
    assert reading.overlaps(svg) == []
    assert reading.outside(svg) == []


watts = st.floats(0.0, 900.0) | st.sampled_from([0.0, 0.2, math.nan, -30.0])


@st.composite
def chains(draw):
    """Any chain of 5 to 10 links with any watts."""
    flow = draw(st.lists(watts, min_size=6, max_size=11))
    names = [
        "Ansa",
        "chain",
        "flat belt to the machine",
        "scooter motor",
        "diode",
        "wire",
        "step-up board",
        "battery",
        "inverter",
        "lamp",
    ]
    keys = [
        "legs",
        "stage 1",
        "stage 2",
        "machine",
        "diode",
        "wire",
        "board",
        "battery",
        "load board",
        "load",
    ]
    binds = draw(st.integers(0, len(flow) - 2))
    return tuple(
        Link(
            key=keys[k],
            name=names[k],
            p_in=flow[k],
            p_out=flow[k + 1],
            volts=24.0 if k > 2 else math.nan,
            amps=4.0 if k > 2 else math.nan,
            speed=300.0 if k < 3 else math.nan,
            torque=2.0 if k < 3 else math.nan,
            limit="amps on its label",
            used=0.5,
            binds=k == binds,
            how=draw(st.sampled_from(["measured", "computed", "guess"])),
        )
        for k in range(len(flow) - 1)
    )


@pytest.mark.parametrize("draw", DRAWERS)
@given(links=chains())
def test_any_chain_can_be_drawn(draw, links):
    """Zero, tiny, negative and unknown watts give a well-formed drawing without a NaN in it, and one mark that binds."""
    svg = draw(links)
    shapes = re.sub(r"<(text|title|desc)[^>]*>[^<]*</\1>", "", svg)
    assert "nan" not in shapes
    assert "inf" not in shapes
    assert [w.words for w in reading.words(svg)].count("binds") == 1
    assert reading.outside(svg) == []


def test_widths_are_watts():
    """The stream between two posts is as tall as its watts: half the watts, half the height."""
    links = [
        Link(key="legs", name="a", p_in=100, p_out=100),
        Link(key="board", name="b", p_in=100, p_out=50),
        Link(key="load", name="c", p_in=50, p_out=50),
    ]
    heights = [
        float(h) for h in re.findall(r'<rect class="df-sand"[^>]*height="([\d.]+)"', pictures.chain(links))
    ]
    assert heights[0] == pytest.approx(2 * heights[2], rel=0.01)


def test_toll_is_as_thick_as_its_watts():
    """A toll that turns away is drawn to the same scale as the stream it leaves."""
    links = [Link(key="legs", name="a", p_in=100, p_out=100), Link(key="board", name="b", p_in=100, p_out=80)]
    svg = pictures.chain(links)
    stream = float(re.findall(r'<rect class="df-sand"[^>]*height="([\d.]+)"', svg)[0])
    foot = float(re.findall(r'class="df-toll" d="[^"]*v8h-([\d.]+)v-8', svg)[0])
    assert foot / stream == pytest.approx(0.2, rel=0.02)


@pytest.mark.parametrize("draw", DRAWERS)
def test_text_alternative_has_the_numbers(draw):
    """Who does not see the picture reads every link, its watts and what binds."""
    text = reading.desc(draw(samples.chain()))
    for link in samples.chain():
        assert link.name in text
    assert "150 W in" in text
    assert "this binds" in text


@pytest.mark.parametrize("draw", DRAWERS)
def test_nothing_is_not_printed_as_an_amount(draw):
    """What arithmetic leaves of nothing (a hundred-billionth of a milliamp) is left out."""
    links = [dataclasses.replace(samples.chain()[-1], volts=12.0, amps=-3.5e-14, torque=2e-9)]
    text = reading.desc(draw(links))
    assert "12\u2009V" in text
    assert not re.search(r"e.?\d|\bm?A\b|N·m", text.partition("12")[2].partition(";")[0])


@pytest.mark.parametrize("draw", DRAWERS)
def test_a_field_coil_has_its_own_sketch(draw):
    """The coil an alternator feeds itself with is drawn as a coil, not as a plain box."""
    coil = Link(key="field", name="field coil", p_in=60.0, p_out=42.0, volts=13.0, amps=1.4)
    box = dataclasses.replace(coil, key="something else")
    assert draw([coil]).count("<path") > draw([box]).count("<path")


def test_looks_follow_origin():
    """A measured toll is bold, a guessed one slanted, a computed one plain."""
    root = reading.tree(pictures.chain(samples.chain()))
    tolls = {
        node.text: node for node in root.iter(f"{reading.SVG}text") if (node.text or "").endswith("\u2009W")
    }
    guessed, measured, plain = (tolls[f"\u2212{w}\u2009W"] for w in ("21", "20", "2.1"))
    assert guessed.get("font-style") == "italic"  # tyre on roller
    assert measured.get("font-weight") == "700"  # machine
    assert plain.get("font-style") is None  # diode: read off a nameplate, shown as computed
    assert plain.get("font-weight") is None


def test_caption_stands_alone():
    """The sentence names what goes in, what arrives, the worst toll and what binds."""
    text = pictures.caption(samples.chain())
    start = (
        "150\u2009W from the legs, 89\u2009W arrive at the loft battery; the tyre on roller keeps the most"
    )
    assert text == f"{start}, 21\u2009W. What binds: the step-down board."


def test_upright_fits_a_phone():
    """The upright chain is no wider than a phone page, so that 15 px stays 15 px."""
    wide = float(reading.tree(pictures.chain_upright(samples.chain())).get("viewBox").split()[2])
    assert wide <= 360
