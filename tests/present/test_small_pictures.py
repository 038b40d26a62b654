"""Room, receipt, edges, charge, bouts, shares and wiring: what each must show."""

from __future__ import annotations

import dataclasses
import math
import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.present import reading, samples

from sparewatt.present.drawings import bouts, chain, charge, edges, leg, receipt, room, shares, wiring
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.palette import DARK, LIGHT, PRINT, page_css
from sparewatt.rig.edges import EdgeCurves
from sparewatt.studies.answers import Room

CADENCE = np.linspace(20, 120, 101) * samples.TURN
LEGS = 102 * np.sin(np.linspace(0.3, 2.9, 101))
MACHINE = 0.027 * np.linspace(20, 120, 101) ** 2
BOARD = np.full(101, 92.6)


CURVES = EdgeCurves(cadence=CADENCE, legs=LEGS, machine=MACHINE, board=BOARD, asked=80.0)


def _edges(**how):
    return edges.edges_picture(CURVES, **how)


PICTURES = {
    "chain": lambda **how: chain.chain(samples.chain(), rig=samples.rig(), **how),
    "chain upright": lambda **how: chain.chain_upright(samples.chain(), rig=samples.rig(), **how),
    "leg": lambda **how: leg.leg_picture(samples.match(), **how),
    "leg, phone": lambda **how: leg.leg_picture(samples.match(), wide=344, **how),
    "room": lambda **how: room.room_to_ride(samples.room(), **how),
    "room, phone": lambda **how: room.room_to_ride(samples.room(), wide=344, **how),
    "no room": lambda **how: room.room_to_ride(samples.room(empty=True), **how),
    "receipt": lambda **how: receipt.worth_receipt(samples.worth_row(), **how),
    "edges": _edges,
    "edges, phone": lambda **how: _edges(wide=344, **how),
    "charge": lambda **how: charge.charge_curve(samples.charge_plan(), **how),
    "charge, phone": lambda **how: charge.charge_curve(samples.charge_plan(), wide=344, **how),
    "bouts": lambda **how: bouts.bout_saw(samples.bout(), **how),
    "bouts, phone": lambda **how: bouts.bout_saw(samples.bout(), wide=344, **how),
    "shares": lambda **how: shares.shares_bar(samples.shares(), **how),
    "wiring": lambda **how: wiring.wiring(samples.rig(), **how),
    "wiring upright": lambda **how: wiring.wiring(samples.rig(), upright=True, **how),
}
KNOWN = set(re.findall(r"\.(d[tlfsw][a-z0-9-]*)", page_css())) | {"dw-wide", "dw-narrow", "dw-inline", "dw"}


@pytest.mark.parametrize("name", PICTURES)
def test_every_picture_keeps_the_house_rules(name):
    """Title and text alternative, no letter under 15, lines of 1.5 to 6, no gradient, shadow, rounded card or own colour."""
    svg = PICTURES[name]()
    root = reading.tree(svg)
    assert root.find(f"{reading.SVG}title").text
    assert any(letter.isdigit() for letter in reading.desc(svg))
    assert min(w.size for w in reading.words(svg)) >= 15
    strokes = [float(s) for s in re.findall(r'stroke-width="([\d.]+)"', svg)]
    assert all(s == 0 or 1.5 <= s <= 6 for s in strokes)
    assert not re.search(r"[Gg]radient|filter|\srx=|#[0-9a-f]{6}|rgb", svg)
    assert reading.classes(svg) <= KNOWN
    assert " style=" not in svg  # a page's policy lets no inline style through


@pytest.mark.parametrize("name", PICTURES)
def test_no_words_touch_in_any_picture(name):
    """No two lines of text cover each other, and none is cut off."""
    svg = PICTURES[name]()
    assert reading.overlaps(svg) == []
    assert reading.outside(svg) == []


@pytest.mark.parametrize("name", PICTURES)
def test_standalone_carries_its_own_colours(name):
    """A drawing for a file has a size, its colours, and no property that only a page would know."""
    svg = PICTURES[name](standalone=True, palette=LIGHT)
    assert "var(" not in svg
    assert LIGHT.ink in svg
    assert float(reading.tree(svg).get("width")) > 0


def test_drawings_on_one_page_do_not_share_names():
    """Patterns are named after their drawing, so that a hidden one cannot take the other's fill away."""
    first = set(re.findall(r'id="([^"]+)"', room.room_to_ride(samples.room(), key="a")))
    second = set(re.findall(r'id="([^"]+)"', room.room_to_ride(samples.room(), key="b")))
    assert first
    assert not first & second


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two `#rrggbb` colours. Source: WCAG 2.2, relative luminance and contrast ratio."""

    def luminance(colour: str) -> float:
        parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("palette", [LIGHT, DARK, PRINT])
def test_letters_can_be_read(palette):
    """Every pair of letter and ground reaches 4.5:1. Source: WCAG 2.2, success criterion 1.4.3."""
    for letters in (palette.ink, palette.soft, palette.accent):
        assert contrast(letters, palette.paper) >= 4.5
    assert contrast(palette.ink, palette.sand) >= 4.5


def test_contrast_of_black_on_white():
    """Black on white is 21:1. Source: WCAG 2.2, definition of contrast ratio."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


# room -----------------------------------------------------------------------------------------------------------------
@given(codes=st.lists(st.integers(0, 8), min_size=12, max_size=12))
def test_every_code_is_named_or_in_the_key(codes):
    """Whatever the cells, each code that is filled appears once in words, in place or in the key."""
    cells = np.repeat(np.array(codes, dtype=np.int64).reshape(3, 4), 3, axis=1)
    grid = Room(
        cadence=np.arange(40, 100, 5) * samples.TURN,
        gears=("a", "b", "c"),
        cells=cells,
        chosen=(0, 0),
        closing=None,
        by_load=(),
    )
    svg = room.room_to_ride(grid)
    said = [w.words for w in reading.words(svg)]
    for code in set(codes):
        if room.FILLS[Room.CELLS[code]]:
            assert said.count(room.WORDS[Room.CELLS[code]]) == 1
    assert reading.overlaps(svg) == []


def test_room_says_what_closes_it():
    """An empty room is a sentence that names both limits, and how much less would open it."""
    text = " ".join(w.words for w in reading.words(room.room_to_ride(samples.room(empty=True))))
    assert "tips over here" in text
    assert "your legs have" in text
    assert "75\u2009% of this load" in room.caption(samples.room(empty=True))


def test_paper_is_white_in_a_dark_room():
    """The print rule stands above every rule for a dark system or a dark room: more selectors of the same kind."""
    css = page_css()
    paper = css.partition("@media print{")[2].partition("}")[0]
    selector = paper.partition("{")[0]
    assert PRINT.paper in paper
    dark = re.findall(r"(:root[^{},]*)\{[^}]*" + re.escape(DARK.paper), css)
    assert len(dark) == 2
    for other in dark:  # a :not() counts as what stands inside it
        assert selector.count(":root") > other.count(":root") + other.count("[data-room")


def test_cells_can_be_pressed():
    """The boxes of the cells tile the drawn grid: as many as cells, side by side, inside the sheet."""
    boxes = room.cell_boxes(samples.room(), wide=344)
    assert len(boxes) == samples.room().cells.size
    (_, _, x, y, wide, high), (_, _, next_x, *_rest) = boxes[:2]
    assert next_x == pytest.approx(x + wide)
    assert max(b[2] + b[4] for b in boxes) <= 344
    assert min(x, y, wide, high) > 0


def test_room_without_cells():
    """A question without a room is a sentence."""
    none = Room(
        cadence=np.empty(0),
        gears=(),
        cells=np.zeros((0, 0), dtype=np.int64),
        chosen=None,
        closing=None,
        by_load=(),
    )
    assert "no room to draw" in reading.words(room.room_to_ride(none))[0].words


# receipt, edges -------------------------------------------------------------------------------------------------------
def test_receipt_tolls_add_up():
    """What the legs give, less every toll, is what the appliance gets, to a hundredth of the first bar."""
    svg = receipt.worth_receipt(samples.worth_row())
    numbers = [w.words for w in reading.words(svg)]
    tolls = sum(float(n[1:]) for n in numbers if re.fullmatch("\u2212[\\d.]+", n))
    bars = [float(w) for w in re.findall(r'class="df-sand"[^>]*width="([\d.]+)"', svg)]
    assert tolls == pytest.approx(22 - 11, abs=0.3)
    assert bars[-1] / bars[0] == pytest.approx(
        samples.worth_row().energy_use / samples.worth_row().energy_legs.mid, abs=0.01
    )


def test_edges_name_the_lowest():
    """The sentence walks the cadence and names what limits: machine slow, board in the middle, legs fast."""
    text = edges.caption(CURVES)
    order = [text.index(words) for words in ("the machine from", "the board from", "your legs from")]
    assert order == sorted(order)


def test_edges_without_a_board_limit():
    """A board without a limit (infinite) takes no part."""
    svg = edges.edges_picture(dataclasses.replace(CURVES, board=np.full(101, math.inf), asked=math.nan))
    assert "the board" not in [w.words for w in reading.words(svg)]


# charge, bouts, shares, mark --------------------------------------------------------------------------------------------
def test_charge_marks_the_end_of_useful_time():
    """The line stands where the state of charge reaches the useful end: 9000 of 21600 s."""
    svg = charge.charge_curve(samples.charge_plan(), wide=560)
    at = float(re.search(r'class="dl-acc" x1="([\d.]+)"', svg).group(1))
    assert (at - 58) / (544 - 58) == pytest.approx(9000 / 21600, abs=0.02)
    assert "useful leg" in " ".join(w.words for w in reading.words(svg))


def test_nothing_to_draw_is_said():
    """Without a curve the pictures say so."""
    plan = dataclasses.replace(samples.charge_plan(), curve=())
    assert "no charge curve" in reading.words(charge.charge_curve(plan))[0].words
    assert "no bout" in reading.words(bouts.bout_saw(dataclasses.replace(samples.bout(), points=())))[0].words


def test_bouts_that_can_go_on():
    """Endless bouts are said to go on."""
    assert bouts.caption(dataclasses.replace(samples.bout(), cycles=math.inf)).endswith("this can go on.")


def test_shares_name_most_and_least():
    """The sentence has the rig that carries most and the one that idles."""
    assert shares.caption(samples.shares()).startswith("rig 1 gives 5.4 to 6.4\u2009A and rig 3 0\u2009A")


def test_a_drawing_holds_no_letter_that_xml_forbids() -> None:
    """A name with an escape letter or a mark is drawn as text, and the drawing is still XML."""
    canvas = Canvas(100, 50, key="c", title="a\x1b<b>", desc="\x00&")
    canvas.open("n\x07", data='"\x9b')
    canvas.close()
    drawn = canvas.svg()
    assert ElementTree.fromstring(drawn) is not None
    assert not any(letter in drawn for letter in "\x00\x07\x1b\x9b")
