"""The blank bench sheets: one page each, cautions before steps, a box for every reading, its own letters."""

from __future__ import annotations

import dataclasses
import io
import re

import pypdf
import pytest

from sparewatt.errors import BadRequest
from sparewatt.files import demo_text, read_text
from sparewatt.present.bench_sheet import COUNTED, bench_sheet_data, bench_sheet_pdf
from sparewatt.rig.fill import fill
from sparewatt.studies.bench.procedures import Guide, guide, guides, screening
from sparewatt.studies.bench.reading_kinds import READINGS

SKERRY = fill(read_text(demo_text("skerry")).rig)


def flat(text: str) -> str:
    """Text without any space."""
    return re.sub(r"[\s\u2009]+", "", text)


def read(pdf: bytes) -> tuple[pypdf.PdfReader, str]:
    """A PDF and its text."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    return reader, flat("".join(page.extract_text() for page in reader.pages))


@pytest.mark.parametrize("one", guides(), ids=lambda g: g.key)
def test_one_page_with_everything_on_it(one: Guide):
    """Each procedure is one A4 page (ISO 216) with every caution, step and value on it, cautions before steps."""
    reader, text = read(bench_sheet_pdf(one, filled=SKERRY))
    assert len(reader.pages) == 1
    assert [round(float(x)) for x in reader.pages[0].mediabox[2:]] == [595, 842]
    p = one.procedure
    for words in (p.title, p.why, *p.cautions, *p.fixes, p.typical, *(step.says for step in p.steps)):
        assert flat(words) in text, words
    for step in p.steps:
        assert flat(step.caution) in text
        whats = [READINGS[slot.what].what for slot in step.slots]
        for slot in step.slots:
            reading = READINGS[slot.what]
            hidden = (reading.what in COUNTED and "speed" in whats) or (
                reading.what == "time" and not slot.needed and "volts" in whats
            )
            assert hidden or flat(reading.says) in text, reading.key
    assert max(text.index(flat(words)) for words in p.cautions) < text.index(flat(p.steps[0].says))
    fonts = {font["/BaseFont"] for font in reader.pages[0]["/Resources"]["/Font"].get_object().values()}
    assert all("AtkinsonHyperlegible" in str(name) for name in fonts)


@pytest.mark.parametrize("key", ["hard_efforts", "step_ride", "spin_open", "rope_brake", "board_power"])
def test_the_fullest_ones_fit_letter_paper_without_a_rig(key):
    """Without a rig, and on letter paper, even the fullest procedures stay on one page."""
    reader, _ = read(bench_sheet_pdf(guide(key), paper="letter"))
    assert len(reader.pages) == 1
    assert [round(float(x)) for x in reader.pages[0].mediabox[2:]] == [612, 792]  # ANSI Y14.1


@pytest.mark.parametrize("one", [g for g in guides() if g.effort != "none"], ids=lambda g: g.key)
def test_questions_and_stop_signs_stand_before_the_steps(one: Guide):
    """Whatever a body works for prints the questions and the stop signs first, with no box to tick beside them."""
    _, text = read(bench_sheet_pdf(one))
    first = text.index(flat(one.procedure.steps[0].says))
    for words in (*(q.asks for q in screening().questions), *screening().stop_signs, screening().stop):
        assert text.index(flat(words)) < first
    assert "Answerforyourself,anddonotwriteitdown." in text


def test_boxes_are_as_many_as_readings():
    """Three readings have three boxes for each value; what is measured once has one; a long effort has its half minutes."""
    steps = bench_sheet_data(guide("spin_open"))["steps"]
    assert [row["boxes"] for row in steps[3]["rows"]] == [3, 3]
    down = bench_sheet_data(guide("run_down"))["steps"][3]["rows"]
    assert {row["says"]: row["boxes"] for row in down}["Mass of the disc"] == 1
    effort = bench_sheet_data(guide("hard_efforts"))["steps"][3]["rows"]
    assert [(row["boxes"], row["strips"]) for row in effort] == [(1, 1), (24, 2), (24, 2), (24, 2)]


def test_hints_come_from_the_rig():
    """With a rig the box says what it should show and which range to start on, once for each value."""
    plain = bench_sheet_data(guide("spin_open"))["steps"]
    told = bench_sheet_data(guide("spin_open"), filled=SKERRY)["steps"]
    assert plain[3]["rows"][0]["hint"] == "meter on 200 V"
    assert re.fullmatch(r"meter on 200 V, should be 4\.\d to \d\d", told[3]["rows"][0]["hint"])
    assert told[4]["rows"][0]["hint"] == ""


def test_no_name_can_break_the_page():
    """Signs of the type setter in the rig's name are printed as they are."""
    nasty = '#*[$ _x_ `{"}\\ #panic("no") <b>'
    named = dataclasses.replace(SKERRY, rig=dataclasses.replace(SKERRY.rig, name=nasty))
    reader, text = read(bench_sheet_pdf(guide("first_turn"), filled=named))
    assert len(reader.pages) == 1
    assert flat(nasty) in text


def test_odd_paper_is_refused():
    """Paper that is not known names what is."""
    with pytest.raises(BadRequest, match="letter"):
        bench_sheet_pdf(guide("rules"), paper="a9")
