"""The bench in a real browser over the real tasks: readings typed by keys alone, phones, dark rooms, paper, no script."""

from __future__ import annotations

import statistics
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from tests.studies.recordings import RPM, clock, run_down, ticking, wav
from tests.web.browser import axe, axe_in_both_rooms, open_page

K = (
    0.0712 * 2 * 3.14159265 / 60
)  # volts for each turn a minute of the machine that these tests pretend to spin
PAGES = [
    "/bench",
    "/bench/spin_open",
    "/bench/run_down",
    "/bench/phone",
    "/bench/dummy?wanted=42+W+at+12+V",
    "/bench/gentle_steps?health=no",
    "/bench/hard_efforts",
]
# From Enter to the new picture standing on the page.
WATCH = """() => { window.took = null; const from = performance.now();
  new MutationObserver((_, self) => { window.took = performance.now() - from; self.disconnect(); })
    .observe(document.getElementById('live'), {childList: true}); }"""


def type_reading(page: Page, volts: float, rpm: float) -> None:
    """Volts, over its unit, speed, Enter: from the box that has the focus."""
    page.keyboard.type(f"{volts:.2f}")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.type(f"{rpm:.0f}")
    page.keyboard.press("Enter")


def test_readings_are_typed_by_keys_alone_and_the_picture_follows(
    browser: Browser, server: str, folder: Path
) -> None:
    """Six readings without a mouse: the focus goes on to the next box, picture and band change, nothing goes outside."""
    page, watch = open_page(browser)
    page.goto(server + "/bench/spin_open")
    page.locator("#v-0").focus()
    pictures = []
    for n, rpm in enumerate((300, 320, 310, 900, 910, 890), 1):
        type_reading(page, K * rpm, rpm)
        expect(page.locator("#panel .mine > li")).to_have_count(n)
        expect(page.locator("#said")).to_contain_text("Written on line")
        pictures.append(page.locator("#panel figure svg desc").first.inner_html())
        assert page.evaluate("document.activeElement.id") == f"v-{4 * n}"
    assert len(set(pictures)) > 3
    expect(page.locator("#panel .known")).to_contain_text("V/krpm")
    expect(page.locator("#panel #h-next")).to_be_visible()
    assert (folder / "readings.csv").read_text(encoding="utf-8").count("open_volts") == 12
    assert axe(page) == []
    watch.clean()
    page.context.close()


def test_the_page_redraws_quickly(browser: Browser, server: str) -> None:
    """From Enter to the new page, warm, in the middle of five (the aim is 150 ms; a busy machine is given more)."""
    page, watch = open_page(browser)
    page.goto(server + "/bench/spin_open")
    page.locator("#v-0").focus()
    took = []
    for n, rpm in enumerate((300, 600, 900, 1200, 1500, 700), 1):
        page.evaluate(WATCH)
        type_reading(page, K * rpm, rpm)
        expect(page.locator("#panel .mine > li")).to_have_count(n)
        took.append(float(page.evaluate("window.took")))
    assert statistics.median(took[1:]) < 1500, took
    watch.clean()
    page.context.close()


def test_what_cannot_be_read_keeps_the_focus_and_everything_typed(
    browser: Browser, server: str, folder: Path
) -> None:
    """The box says what was read and what would be accepted; other boxes keep what they held; then it is put right."""
    page, watch = open_page(browser)
    page.goto(server + "/bench/spin_open")
    page.locator("#v-4").fill("8.9")
    page.locator("#v-0").focus()
    page.keyboard.type("2.3")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.type("fast")
    page.keyboard.press("Enter")
    expect(page.locator("[id='p-v.1']")).to_contain_text("fast")
    assert page.evaluate("document.activeElement.id") == "v-1"
    assert page.locator("#v-4").input_value() == "8.9"
    assert page.locator("#v-0").input_value() == "2.3"
    assert not (folder / "readings.csv").exists()
    assert axe(page) == []
    page.keyboard.press("Control+a")
    page.keyboard.type("310")
    page.locator("#v-4").fill("")
    page.locator("#v-1").press("Enter")
    expect(page.locator("#said")).to_contain_text("Written on line 3")
    watch.clean()
    page.context.close()


def test_an_odd_reading_is_named_left_out_and_taken_back(browser: Browser, server: str, folder: Path) -> None:
    """A point in the wrong place: named in words and by shape; left out with its reason, by keys; and back."""
    page, watch = open_page(browser)
    page.goto(server + "/bench/spin_open")
    page.locator("#v-0").focus()
    for n, rpm in enumerate((300, 600, 900, 1200, 1500), 1):
        type_reading(page, K * rpm, rpm)
        expect(page.locator("#panel .mine > li")).to_have_count(n)
    type_reading(page, 60.0, 1000)
    expect(page.locator("#panel .mine > li")).to_have_count(6)
    expect(page.locator("#panel #h-odd")).to_be_visible()
    expect(page.locator("#panel .odd").first).to_contain_text("line 13")
    page.locator("#d-13 summary").press("Enter")
    page.locator("#why-13").fill("point in the wrong place")
    page.locator("#why-13").press("Enter")
    expect(page.locator("#said")).to_contain_text("left out")
    assert "no: point in the wrong place" in (folder / "readings.csv").read_text(encoding="utf-8")
    page.get_by_role("button", name="Take back line 13").press("Enter")
    expect(page.locator("#said")).to_contain_text("counts again")
    assert "no: point" not in (folder / "readings.csv").read_text(encoding="utf-8")
    watch.clean()
    page.context.close()


def test_what_is_known_goes_into_the_rig_file(browser: Browser, server: str, folder: Path) -> None:
    """One button, and undo is at hand."""
    page, watch = open_page(browser)
    page.goto(server + "/bench/spin_open")
    page.locator("#v-0").focus()
    for n, rpm in enumerate((300, 900, 1500), 1):
        type_reading(page, K * rpm, rpm)
        expect(page.locator("#panel .mine > li")).to_have_count(n)
    before = (folder / "rig.toml").read_text(encoding="utf-8")
    page.goto(server + "/bench")
    page.get_by_role("button", name="Write this into the rig file").press("Enter")
    expect(page.locator(".strip-note")).to_contain_text("bench")
    assert (folder / "rig.toml").read_text(encoding="utf-8") != before
    page.get_by_role("button", name="Undo").press("Enter")
    expect(page.locator(".strip-note")).to_have_count(0)
    assert (folder / "rig.toml").read_text(encoding="utf-8") == before
    watch.clean()
    page.context.close()


def test_the_health_questions_open_and_close_efforts(browser: Browser, standing: str) -> None:
    """Before the answers no effort is open; after one yes the hard ones stay closed with the reason."""
    page, watch = open_page(browser)
    page.goto(standing + "/bench")
    expect(page.locator('a[href^="/bench/gentle_steps"]')).to_have_count(0)
    for group in page.locator(".yesno").all():
        group.get_by_label("no", exact=True).check()
    page.locator(".yesno").nth(2).get_by_label("yes", exact=True).check()
    page.get_by_role("button", name="These are my answers").click()
    expect(page.locator('a[href="/bench/gentle_steps?health=yes"]')).to_have_count(1)
    expect(page.locator('a[href*="/bench/hard_efforts"]')).to_have_count(0)
    expect(page.locator(".shut").first).to_contain_text("Ask a doctor")
    watch.clean()
    page.context.close()


def test_without_script_everything_works(browser: Browser, server: str, folder: Path) -> None:
    """Plain form posts: the same page comes back with the next box ready."""
    page, watch = open_page(browser, script=False)
    page.goto(server + "/bench/spin_open")
    page.locator("#v-0").fill("2.24")
    page.locator("#v-1").fill("300")
    page.locator("#v-1").press("Enter")
    expect(page.locator("#said")).to_contain_text("Written on line 3")
    expect(page.locator("#v-4")).to_be_focused()
    page.locator("#v-4").fill("4.47")
    page.locator("#v-5").fill("600")
    page.locator("#v-5").press("Enter")
    expect(page.locator("#panel .mine > li")).to_have_count(2)
    expect(page.locator("#panel figure svg").first).to_be_visible()
    assert (folder / "readings.csv").read_text(encoding="utf-8").count("open_volts") == 4
    watch.clean()
    page.context.close()


@pytest.mark.parametrize("path", PAGES)
def test_pages_are_clean_and_accessible(browser: Browser, standing: str, path: str) -> None:
    """No message, no request outside, nothing the checker (WCAG 2.2 AA) holds against it, unfolded and in the dark too."""
    page, watch = open_page(browser)
    page.goto(standing + path)
    assert axe_in_both_rooms(page) == []
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert axe_in_both_rooms(page) == []
    watch.clean()
    page.context.close()


@pytest.mark.parametrize("path", PAGES)
def test_pages_fit_a_phone(browser: Browser, standing: str, path: str) -> None:
    """At 390 px nothing sticks out, no letter is under 15 px, and what is pressed is 44 px high."""
    page, watch = open_page(browser, wide=390, tall=844)
    page.goto(standing + path)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    small = page.evaluate(
        """() => [...document.querySelectorAll('body *')]
        .filter(e => e.getClientRects().length && !e.closest('.out-of-sight') && !e.closest('svg'))
        .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
        .filter(e => parseFloat(getComputedStyle(e).fontSize) < 14.9).map(e => e.textContent.trim().slice(0, 40))"""
    )
    assert small == []
    low = page.evaluate(
        """() => [...document.querySelectorAll(
          'button, select, input:not([type=hidden], [type=radio]), .yesno label, summary, .button')]
        .filter(e => e.getClientRects().length && e.getBoundingClientRect().height < 43.5)
        .map(e => e.outerHTML.slice(0, 80))"""
    )
    assert low == []
    watch.clean()
    page.context.close()


def test_paper_shows_steps_and_no_buttons(browser: Browser, standing: str) -> None:
    """Printed, the steps stay with their boxes; buttons and folds that only make sense on a screen are gone."""
    page, watch = open_page(browser)
    page.goto(standing + "/bench/spin_open")
    page.emulate_media(media="print")
    expect(page.locator(".steps > li").first).to_be_visible()
    assert page.locator("#v-0").is_visible()
    assert not any(button.is_visible() for button in page.locator("button").all())
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    watch.clean()
    page.context.close()


def test_a_recording_is_sent_heard_counted_and_kept(
    browser: Browser, server: str, folder: Path, tmp_path: Path
) -> None:
    """A WAV file chosen on the page: the speed is said, the run-down drawn, and one press writes it down."""
    t = clock(12, 16000)
    angle, _ = run_down(t, 900 * RPM, 5.0, 0.05)
    sound = tmp_path / "down.wav"
    sound.write_bytes(wav(ticking(angle, t, 16000, seed=4), 16000))
    page, watch = open_page(browser)
    page.goto(server + "/bench/phone")
    page.set_input_files("#sound-file", str(sound))
    page.select_option("#sound-falls", "yes")
    page.get_by_role("button", name="Listen").click()
    expect(page.locator("h1")).to_contain_text("It runs down from")
    expect(page.locator("figure svg").first).to_be_visible()
    assert axe(page) == []
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("#h-every")).to_be_visible()
    assert (folder / "readings.csv").read_text(encoding="utf-8").count("run_down,speed") > 8
    watch.clean()
    page.context.close()
