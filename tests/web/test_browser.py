"""The pages in a real browser over the real tasks: keys, sliders, phones, dark rooms, paper, and nothing from outside."""

from __future__ import annotations

import io
import statistics
import time
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader
from tests.web.browser import axe, axe_in_both_rooms, open_page
from tests.web.conftest import served
from tests.web.fits import PRESSED, fits_a_phone

PAGES = [
    "/",
    "/match",
    "/scene",
    "/worth",
    "/loads",
    "/guard",
    "/heap",
    "/bench",
    "/mend",
    "/rig",
    "/files",
    "/code",
]


def settle(page: Page) -> None:
    """Wait until no piece of the page waits for an answer."""
    expect(page.locator(".waiting")).to_have_count(0)
    expect(page.locator('#part-answer[aria-busy="true"]')).to_have_count(0)


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
    """At 390 px nothing sticks out, no letter is under 15 px, what is pressed (a choice: with its label) is 44 px high or
    stands in a line of text."""
    page, watch = open_page(browser, wide=390, tall=844)
    page.goto(standing + path)
    fits_a_phone(page, PRESSED + ", .strip a, .marks a")
    watch.clean()
    page.context.close()


def test_the_current_section_is_in_view_on_a_phone(browser: Browser, standing: str) -> None:
    """The strip scrolls sideways until the current word shows."""
    page, watch = open_page(browser, wide=240, tall=700)
    page.goto(standing + "/guard")
    box = page.locator(".strip a[aria-current]").bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 241
    watch.clean()
    page.context.close()


def test_pages_work_at_twice_the_size(browser: Browser, standing: str) -> None:
    """A 1200 px window at 200 % is 600 px wide: nothing sticks out."""
    page, watch = open_page(browser, wide=600, tall=450)
    for path in PAGES:
        page.goto(standing + path)
        assert page.evaluate("document.documentElement.scrollWidth") <= 600, path
    watch.clean()
    page.context.close()


def test_the_dark_room_has_no_blue_and_needs_no_flash(browser: Browser, standing: str) -> None:
    """The choice stays on the device, is there before the first paint, and no colour of the dark page leans to blue."""
    page, watch = open_page(browser)
    page.goto(standing + "/match")
    page.get_by_role("link", name="dark", exact=True).click()
    assert page.evaluate("document.documentElement.dataset.room") == "dark"
    page.add_init_script(
        """new MutationObserver(() => {
          if (document.body && !window.first) window.first = document.documentElement.dataset.room || 'none';
        }).observe(document, {childList: true, subtree: true})"""
    )
    page.goto(standing + "/guard")
    assert page.evaluate("window.first") == "dark"
    blue = page.evaluate(
        """() => [...document.querySelectorAll('body, body *')]
        .map(e => getComputedStyle(e))
        .flatMap(s => [s.color, s.backgroundColor, s.fill, s.stroke, s.borderTopColor])
        .map(c => c.match(/[\\d.]+/g)?.map(Number))
        .filter(n => n && n.length >= 3 && n[3] !== 0 && n[2] > n[0])"""
    )
    assert blue == []
    watch.clean()
    page.context.close()


def test_inch_units_stay_on_the_device(browser: Browser, standing: str) -> None:
    """Chosen once in the address, kept without a cookie."""
    page, watch = open_page(browser)
    page.goto(standing + "/match?units=inch")
    page.goto(standing + "/guard")
    assert "units=inch" in page.url
    assert page.evaluate("document.documentElement.dataset.units") == "inch"
    page.get_by_role("link", name="metric", exact=True).click()
    page.goto(standing + "/match")
    assert "inch" not in page.url
    assert page.context.cookies() == []
    watch.clean()
    page.context.close()


def test_a_slider_redraws_the_page_and_the_address(browser: Browser, standing: str) -> None:
    """Dragging changes answer, pictures and address together; back goes back."""
    page, watch = open_page(browser)
    page.goto(standing + "/match?effort=80+W")
    before = page.locator("h1").inner_text()
    page.locator("#c-effort").focus()
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    settle(page)
    assert "effort=120" in page.url
    assert page.locator("h1").inner_text() != before
    assert page.locator('[data-echo="effort"]').inner_text().startswith("120")
    page.go_back()
    expect(page.locator("h1")).to_have_text(before)
    assert page.locator("#c-effort").input_value() == "80"
    watch.clean()
    page.context.close()


def test_controls_change_the_picture_in_place(browser: Browser, standing: str) -> None:
    """Gear, load and rider each redraw without leaving the page."""
    page, watch = open_page(browser)
    page.goto(standing + "/match")
    page.evaluate("window.stayed = true")
    page.locator("#c-gear").select_option("42/24")
    settle(page)
    assert "gear=42%2F24" in page.url
    assert "42/24" in page.locator("#part-gears tr.best th").inner_text()
    page.locator("#c-rider").select_option("Bao")
    settle(page)
    assert "rider=Bao" in page.url
    page.locator("#c-load").select_option("lamp")
    settle(page)
    assert "load=lamp" in page.url
    assert page.evaluate("window.stayed") is True
    watch.clean()
    page.context.close()


def test_the_room_is_walked_with_arrow_keys_and_pressed(browser: Browser, standing: str) -> None:
    """Arrows move the chosen cell; a press chooses another; gear and cadence follow."""
    page, watch = open_page(browser)
    page.goto(standing + "/match?gear=42%2F21&cadence=60+rpm")
    page.locator("[data-walk]").focus()
    page.keyboard.press("ArrowRight")
    settle(page)
    first = float(page.locator("#c-cadence").input_value())
    assert first > 60
    page.keyboard.press("ArrowDown")
    settle(page)
    assert page.locator("#c-gear").input_value() == "42/24"
    assert page.evaluate("document.activeElement.hasAttribute('data-walk')") is True
    page.locator('.dw-wide [data-gear="42/18"]').nth(3).click()
    settle(page)
    assert page.locator("#c-gear").input_value() == "42/18"
    watch.clean()
    page.context.close()


def test_marks_under_the_slider_set_the_effort(browser: Browser, standing: str) -> None:
    """All day, an hour, ten minutes, a minute: rising watts, each sets the slider."""
    page, watch = open_page(browser)
    page.goto(standing + "/match")
    watts = [int(m.get_attribute("data-effort") or 0) for m in page.locator(".marks a").all()]
    assert len(watts) == 4
    assert watts == sorted(watts)
    page.locator(".marks a").nth(0).click()
    settle(page)
    assert page.locator("#c-effort").input_value() == str(watts[0])
    watch.clean()
    page.context.close()


def test_a_slip_is_said_in_place(browser: Browser, standing: str) -> None:
    """A word that is no time is named; the page stays."""
    page, watch = open_page(browser)
    page.goto(standing + "/match")
    page.locator("#c-duration").fill("a while")
    page.locator("#c-duration").press("Enter")
    expect(page.locator("#live-problem")).to_be_visible()
    assert "duration" in page.locator("#live-problem").inner_text()
    assert page.locator("h1").inner_text()
    watch.messages = [m for m in watch.messages if "400" not in m]  # the browser notes the refused request
    watch.clean()
    page.context.close()


def test_slider_to_redraw_is_quick(browser: Browser, standing: str) -> None:
    """From moving the slider to the new picture: the quicker half feels immediate, also on a busy machine."""
    page, watch = open_page(browser)
    page.goto(standing + "/match?effort=60+W")
    page.evaluate(
        """() => { window.took = []; let since = 0; const slider = document.getElementById('c-effort');
        new MutationObserver(() => { if (!since) return; const t = since; since = 0;
          requestAnimationFrame(() => window.took.push(performance.now() - t)); })
          .observe(document.getElementById('part-chain'), {childList: true});
        window.move = (v) => { slider.value = v; since = performance.now();
          slider.dispatchEvent(new Event('input', {bubbles: true})); }; }"""
    )
    for k in range(24):
        page.evaluate("v => window.move(v)", 65 + 5 * k)
        page.wait_for_function("n => window.took.length >= n", arg=k + 1, timeout=10_000)
    took = page.evaluate("window.took")[4:]
    assert statistics.median(sorted(took)[: len(took) // 2]) < 500, took
    watch.clean()
    page.context.close()


def test_a_changed_scene_is_redrawn_quickly(browser: Browser, standing: str) -> None:
    """From moving a step to the new picture, with the bands of all runs after it: the quicker half feels immediate."""
    page, watch = open_page(browser)
    page.goto(standing + "/match")
    page.get_by_role("link", name="Show me its seconds").first.click()
    page.wait_for_url("**/scene?**")
    page.goto(standing + "/scene?words=at+5+s+pull+the+plug%3B+at+12+s+plug+it+back+in")
    expect(page.locator("#part-picture .df-band").first).to_be_attached(timeout=120_000)
    page.evaluate(
        """() => { window.took = []; let since = 0;
        new MutationObserver(() => { if (!since) return; const t = since; since = 0;
          requestAnimationFrame(() => window.took.push(performance.now() - t)); })
          .observe(document.getElementById('part-picture'), {childList: true});
        window.move = (way) => { since = performance.now();
          document.querySelector(`#part-steps li:last-child [data-edit=${way}]`).click(); }; }"""
    )
    for k in range(16):
        page.evaluate("way => window.move(way)", "later" if k < 12 else "sooner")
        page.wait_for_function("n => window.took.length >= n", arg=k + 1, timeout=10_000)
    took = page.evaluate("window.took")[4:]
    assert statistics.median(sorted(took)[: len(took) // 2]) < 500, took
    expect(page.locator(".waiting")).to_have_count(0)
    expect(page.locator("#part-picture .df-band").first).to_be_attached()
    watch.clean()
    page.context.close()


def test_pictures_follow_a_hand_that_keeps_moving(browser: Browser, standing: str) -> None:
    """Two seconds of moves without a pause: answers keep coming, one question at a time, and the last move wins."""
    page, watch = open_page(browser)
    page.goto(standing + "/match?effort=60+W")
    seen = page.evaluate(
        """() => new Promise((done) => {
        const slider = document.getElementById('c-effort'), plain = window.fetch;
        let redraws = 0, asking = 0, most = 0, moves = 0;
        window.fetch = async (...x) => {
          most = Math.max(most, ++asking);
          try { return await plain(...x); } finally { asking--; } };
        new MutationObserver(() => redraws++).observe(document.getElementById('part-chain'), {childList: true});
        const hand = setInterval(() => {
          slider.value = 65 + 5 * (++moves % 40);
          slider.dispatchEvent(new Event('input', {bubbles: true}));
          if (moves === 100) { clearInterval(hand); done({redraws, most}); }
        }, 20);
        })"""
    )
    assert seen["redraws"] >= 3, seen
    assert seen["most"] == 1, seen
    last = page.locator("#c-effort").input_value()
    expect(page.locator(".waiting")).to_have_count(0)
    assert f"effort={last}" in page.url
    assert page.locator("output[data-echo=effort]").inner_text().startswith(last)
    watch.clean()
    page.context.close()


def test_everything_works_by_keyboard(browser: Browser, standing: str) -> None:
    """Tab reaches the skip link first, every control has a visible ring, and a demo can be opened with Enter."""
    page, watch = open_page(browser)
    page.goto(standing + "/match")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    reached = set()
    for _ in range(80):
        page.keyboard.press("Tab")
        name = page.evaluate(
            "document.activeElement.id || document.activeElement.name || document.activeElement.tagName"
        )
        ring = page.evaluate(
            "getComputedStyle(document.activeElement).outlineStyle + getComputedStyle(document.activeElement).outlineWidth"
        )
        assert name == "BODY" or not ring.startswith("none"), name
        reached.add(name)
    assert {"c-rider", "c-load", "c-gear", "c-cadence", "c-effort", "c-duration"} <= reached
    watch.clean()
    page.context.close()


def test_the_match_page_prints_on_white_paper(browser: Browser, standing: str) -> None:
    """Printed from the dark room: black on white, the answer and the settings there, the controls gone."""
    page, watch = open_page(browser, room="dark")
    page.goto(standing + "/match")
    answer = page.locator("h1").inner_text()
    made = PdfReader(io.BytesIO(page.pdf(format="A4", print_background=True)))
    text = " ".join(" ".join(p.extract_text().split()) for p in made.pages)
    assert answer.split(".")[0][:30] in text
    assert "Settings card" in text
    assert "Change it and see" not in text
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    watch.clean()
    page.context.close()


def test_everything_works_without_scripts(browser: Browser, server: str) -> None:
    """Forms, links and buttons alone: ask another way, try a change, keep it, undo it."""
    page, watch = open_page(browser, script=False)
    page.goto(server + "/match")
    page.locator("#c-gear").select_option("42/21")
    page.get_by_role("button", name="Show me").click()
    assert "gear=42%2F21" in page.url
    page.locator("details.change summary").click()
    page.locator("#c-key").select_option("stage.1.driven_diameter")
    page.locator("#c-value").fill("57 mm")
    page.get_by_role("button", name="Try it", exact=True).click()
    expect(page.locator(".trying")).to_contain_text("57 mm")
    page.get_by_role("button", name="Keep it").click()
    expect(page.locator(".strip-note")).to_contain_text("57 mm")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".strip-note")).to_have_count(0)
    watch.clean()
    page.context.close()


def test_a_box_of_the_rig_page_is_written_when_it_is_left(
    browser: Browser, server: str, folder: Path
) -> None:
    """No button to press; what was unfolded stays unfolded; undo is at hand."""
    page, watch = open_page(browser)
    page.goto(server + "/rig")
    page.locator("[id='p-battery'] > summary").click()
    page.locator("[id='d-battery'] > summary").click()
    page.locator("[id='f-battery.resistance']").fill("20 mohm")
    page.locator("[id='f-battery.resistance']").press("Tab")
    expect(page.locator(".strip-note")).to_contain_text("20 mohm")
    assert 'resistance = "20 mohm"' in (folder / "rig.toml").read_text(encoding="utf-8")
    for unfolded in ("p-battery", "d-battery"):
        assert page.locator(f"[id='{unfolded}']").get_attribute("open") is not None
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".strip-note")).to_have_count(0)
    assert "20 mohm" not in (folder / "rig.toml").read_text(encoding="utf-8")
    watch.clean()
    page.context.close()


def test_from_one_sentence_to_a_verdict(browser: Browser, tmp_path: Path) -> None:
    """The first screen: a sentence, the button, a verdict, and a rig file of one's own."""
    with served(None, tmp_path / "home") as address:
        page, watch = open_page(browser)
        page.goto(address)
        assert axe(page) == []
        page.get_by_label("What do you want to run, and who will ride?").fill(
            "A 10 W lamp for four hours every evening. I am 34 and fairly fit."
        )
        page.get_by_role("button", name="Tell me straight").click()
        assert page.url.endswith("/match")
        assert page.locator(".verdict").first.inner_text() in ("good use of legs", "hard work", "not by legs")
        expect(page.locator("details.told")).to_contain_text("lamp")
        written = list((tmp_path / "home").glob("*/rig.toml"))
        assert len(written) == 1
        assert "lamp" in written[0].read_text(encoding="utf-8")
        assert axe(page) == []
        watch.clean()
        page.context.close()


def test_a_demo_is_opened_changed_and_left_as_it_was(browser: Browser, tmp_path: Path) -> None:
    """Load a demo, change things, and find the copy in one's own folder."""
    with served(None, tmp_path / "home") as address:
        page, watch = open_page(browser)
        page.goto(address)
        page.locator(".stories button").first.press("Enter")
        page.wait_for_url("**/match")
        settle(page)
        page.locator("#c-effort").press("ArrowRight")
        settle(page)
        for path in ("/worth", "/loads", "/guard", "/heap", "/rig", "/files"):
            page.goto(address + path)
            assert page.locator("h1").inner_text()
        assert len(list((tmp_path / "home").glob("*/rig.toml"))) == 1
        watch.clean()
        page.context.close()


def test_the_first_page_does_not_wait_for_the_solver(tmp_path: Path) -> None:
    """A fresh process serves the first page before scipy, numba or typst are loaded."""
    import subprocess
    import sys

    code = (
        "import sys\nfrom fastapi.testclient import TestClient\nfrom sparewatt.web.app import create_app\n"
        f"home = __import__('pathlib').Path({str(tmp_path)!r})\n"
        "with TestClient(create_app(None, home=home), base_url='http://127.0.0.1') as c:\n"
        "    assert c.get('/').status_code == 200\n"
        "print([m for m in ('scipy', 'numba', 'typst') if m in sys.modules])"
    )
    started = time.monotonic()
    run = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    assert run.stdout.strip() == "[]", run.stdout + run.stderr
    assert time.monotonic() - started < 15
