"""The printed sheet: every answer on it, its own letters, and no name in a rig file that can break it."""

from __future__ import annotations

import dataclasses
import io
import re
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pypdf
import pytest
from tests.present import samples

from sparewatt import tasks
from sparewatt.errors import BadRequest
from sparewatt.files import demo_list, demo_text, read_text
from sparewatt.present import sheet, words, words_guard, words_loads
from sparewatt.present.words_numbers import sentence

NASTY = '#*[$ _x_ `{"}\\ #panic("no") <b> \u00e9'


@dataclass(frozen=True)
class Told:
    answer: str
    verdict: str | None
    study: object
    caveats: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


def told(*, stalls: bool = False, rig=None) -> dict[str, Told]:
    """Answers of four sections."""
    rig = rig or samples.rig()
    match, loads, guard, worth = (
        samples.match(stalls=stalls),
        samples.loads(),
        samples.guard(),
        samples.worth(),
    )
    return {
        "match": Told(
            words.match_answer(match, rig),
            match.verdict,
            match,
            tuple(map(words.caveat, match.caveats)),
            match.sources,
        ),
        "loads": Told(words_loads.loads_answer(loads), "hard work", loads),
        "guard": Told(words_guard.guard_answer(guard), guard.check, guard),
        "worth": Told(words_loads.worth_answer(worth), "good use of legs", worth),
    }


def flat(text: str) -> str:
    """Text without any space."""
    return re.sub(r"[\s\u2009]+", "", text)


def read(pdf: bytes) -> tuple[pypdf.PdfReader, str]:
    """A PDF and its text."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    return reader, flat("".join(page.extract_text() for page in reader.pages))


@pytest.mark.parametrize("paper", sheet.PAPERS)
@pytest.mark.parametrize("stalls", [False, True])
def test_every_answer_is_on_two_to_four_pages(paper, stalls):
    """The sheet has two to four pages of the right size and carries every answer and every hazard."""
    answers = told(stalls=stalls)
    reader, text = read(sheet.summary_pdf(answers, samples.rig(), paper=paper, made="2 May"))
    assert 2 <= len(reader.pages) <= 4
    size = {"a4": (595, 842), "letter": (612, 792)}[paper]  # ISO 216 and ANSI Y14.1, in points
    assert [round(float(x)) for x in reader.pages[0].mediabox[2:]] == list(size)
    for one in answers.values():
        for said in sheet.SENTENCE.split(one.answer):
            assert flat(said) in text
    for finding in samples.guard().findings:
        assert flat(finding.do) in text
    for setting in samples.settings():
        assert flat(setting.meter) in text


def test_much_to_say_still_fits_four_pages():
    """With many hazards, sizes and loads the words get fewer; answers and stops stay whole."""
    answers = told()
    guard, loads = samples.guard(), samples.loads()
    look, stop = guard.findings
    findings = [dataclasses.replace(stop, title=f"Stop number {k}") for k in range(3)]
    findings += [dataclasses.replace(look, title=f"Look number {k}") for k in range(10)]
    study = dataclasses.replace(guard, findings=tuple(findings), sizes=guard.sizes * 8)
    answers["guard"] = dataclasses.replace(answers["guard"], study=study)
    answers["loads"] = dataclasses.replace(
        answers["loads"], study=dataclasses.replace(loads, rows=loads.rows * 3)
    )
    reader, text = read(sheet.summary_pdf(answers, samples.rig()))
    assert len(reader.pages) <= 4
    assert text.count(flat(stop.says)) >= 3
    assert flat("Look number 9") in text
    for one in answers.values():
        for said in sheet.SENTENCE.split(one.answer):
            assert flat(said) in text


@pytest.mark.parametrize("units", ["metric", "inch"])
@pytest.mark.parametrize("demo", [d.key for d in demo_list()])
def test_a_real_rig_is_laid_out_for_use(demo, units):
    """Every demo: four pages at most, the answer on the first, the settings card whole on one, no key of a source."""
    rig = read_text(demo_text(demo))
    match = tasks.match(rig)
    reader = pypdf.PdfReader(io.BytesIO(tasks.sheet(rig, units=units)))
    pages = [flat(page.extract_text()) for page in reader.pages]
    assert len(pages) <= 4
    assert flat(sheet.SENTENCE.split(match.answer)[0]) in pages[0]
    card = next(page for page in pages if flat("Settings, in this order") in page)
    for setting in match.study.settings:
        assert flat(sentence(setting.meter)) in card
    assert not re.search(r"Limitfrom:[a-z0-9]+_", "".join(pages))


def test_volts_of_a_setting_keep_their_tenths():
    """A screw set to 14.4 V is not printed as 14 V, nor a pace to a tenth of a turn."""
    first, *_ = samples.settings()
    volts = dataclasses.replace(first, value=14.4, unit="V")
    pace = dataclasses.replace(first, value=90.3 * samples.TURN, unit="rad/s")
    assert sheet._setting(volts, False)["value"]["number"] == "14.4"
    assert sheet._setting(pace, False)["value"]["number"] == "90"


def test_what_the_file_leaves_out_is_counted_once():
    """Three answers count differently what the file leaves out; the sheet says the most once."""
    counts = [f"The rig file leaves out {n} numbers and typical values stand in." for n in (7, 39, 15)]
    assert sheet._once(["Mind the dog.", *counts, "Mind the dog."]) == ["Mind the dog.", counts[1]]


def test_stop_is_on_the_first_page():
    """What must be put right first stands on page one, under the answer."""
    reader, _ = read(sheet.summary_pdf(told(), samples.rig()))
    assert flat("No fuse at the battery post") in flat(reader.pages[0].extract_text())


def test_letters_travel_with_the_sheet():
    """All fonts in the file are the shipped family, embedded."""
    reader, _ = read(sheet.summary_pdf(told(), samples.rig()))
    fonts = {
        font.get_object()["/BaseFont"]
        for page in reader.pages
        for font in page["/Resources"].get("/Font", {}).values()
    }
    descendants = [
        font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
        for page in reader.pages
        for font in page["/Resources"].get("/Font", {}).values()
    ]
    assert fonts
    assert all("Atkinson" in name for name in fonts)
    assert all("/FontFile2" in d or "/FontFile3" in d for d in descendants)


def test_user_text_cannot_break_the_sheet():
    """Names made of markup are printed as they are, in headings, tables and drawings."""
    rig = samples.rig(name=NASTY)
    answers = told(rig=rig)
    loads = answers["loads"].study
    rows = (dataclasses.replace(loads.rows[0], load=NASTY), *loads.rows[1:])
    answers["loads"] = dataclasses.replace(
        answers["loads"], study=dataclasses.replace(loads, rows=rows), answer=f"No, not {NASTY}."
    )
    links = tuple(dataclasses.replace(link, name=NASTY) for link in samples.chain())
    answers["match"] = dataclasses.replace(
        answers["match"], study=dataclasses.replace(answers["match"].study, chain=links)
    )
    _, text = read(sheet.summary_pdf(answers, rig, made=NASTY))
    assert text.count(flat(NASTY)) >= 4


def test_one_answer_is_enough():
    """A sheet can be made of a single section."""
    reader, text = read(sheet.summary_pdf({"guard": told()["guard"]}, samples.rig()))
    for said in sheet.SENTENCE.split(told()["guard"].answer):
        assert flat(said) in text
    assert len(reader.pages) <= 2


def test_check_bar_is_printed():
    """The bar to check the printer's scale says how long it is."""
    _, text = read(sheet.summary_pdf(told(), samples.rig()))
    assert flat("This bar is 50 mm long") in text


def test_unknown_paper_is_refused():
    """A paper that is not known is a problem with a hint."""
    with pytest.raises(BadRequest) as caught:
        sheet.summary_pdf(told(), samples.rig(), paper="a3")
    assert "a4" in caught.value.problems[0].hint


def test_wiring_page():
    """The wiring page is one page and says that a fuse is missing."""
    reader, text = read(sheet.wiring_pdf(samples.rig()))
    assert len(reader.pages) == 1
    assert flat("goes here") in text


def test_typesetter_is_loaded_late():
    """Importing the sheet does not load the typesetter."""
    code = "import sys, sparewatt.present.sheet; sys.exit('typst' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_quick_enough_from_cold():
    """A sheet takes less than 3 s in a fresh process."""
    code = (
        "from tests.present import samples, test_sheet; from sparewatt.present import sheet; "
        "sheet.summary_pdf(test_sheet.told(), samples.rig())"
    )
    start = time.monotonic()
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parents[2])
    assert time.monotonic() - start < 3 + 2  # two more for the test's own imports on a busy machine
