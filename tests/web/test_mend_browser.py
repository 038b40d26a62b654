"""The fault-finder in a real browser: judged while typed, by keys alone, on a phone, dark, on paper, without script."""

from __future__ import annotations

import io
from collections.abc import Iterator
from urllib.parse import parse_qsl, urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader
from tests.web import fake_tasks
from tests.web.browser import axe_in_both_rooms, open_page
from tests.web.conftest import RIG, served
from tests.web.fits import fits_a_phone

ADDRESS = "/mend?ride=cadence+62%2C+11.4+V%2C+3.1+A%2C+heavy&ride=62+rpm%2C+12+V&well=60+rpm%2C+15+V"
STOPS = "/mend?ride=62+rpm%2C+-11+V"
BAD = "/mend?r1_cadence=sixty"


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The app over made causes, for tests that only look; `test_browser` opens the page over the real thing."""
    place = tmp_path_factory.mktemp("stilts")
    (place / "rig.toml").write_text(RIG, encoding="utf-8")
    with served(place, place / "home", tasks=fake_tasks) as address:
        yield address


def settle(page: Page) -> None:
    """Wait until no piece of the page waits for an answer."""
    expect(page.locator(".waiting")).to_have_count(0)
    expect(page.locator('#part-answer[aria-busy="true"]')).to_have_count(0)


@pytest.mark.parametrize("address", [ADDRESS, STOPS, BAD])
def test_the_page_is_clean_and_accessible(browser: Browser, standing: str, address: str) -> None:
    """No message, no request outside, nothing held against it (WCAG 2.2 AA), unfolded and in the dark too."""
    page, watch = open_page(browser)
    page.goto(standing + address)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert axe_in_both_rooms(page) == []
    watch.messages = [m for m in watch.messages if "400" not in m]  # the browser notes a page that is not 200
    watch.clean()
    page.context.close()


@pytest.mark.parametrize("address", [ADDRESS, STOPS, BAD])
def test_the_page_fits_a_phone(browser: Browser, standing: str, address: str) -> None:
    """At 390 px nothing sticks out, no letter is under 15 px, what is pressed is 44 px high."""
    page, _watch = open_page(browser, wide=390, tall=844)
    page.goto(standing + address)
    fits_a_phone(page)
    page.context.close()


def test_what_is_typed_is_judged_at_once(browser: Browser, standing: str) -> None:
    """No button: the answer follows the boxes, the address too, and opening that address shows the same."""
    page, watch = open_page(browser)
    page.goto(standing + "/mend")
    expect(page.locator("h1")).to_have_text("What is wrong?")
    page.locator("#r1-cadence").fill("62")
    page.locator("#r1-volts").fill("11.4")
    page.wait_for_url("**r1_volts=11.4**")
    expect(page.locator("h1")).to_contain_text("Most likely the rim belt slips")
    settle(page)
    assert dict(parse_qsl(urlsplit(page.url).query)) == {"r1_cadence": "62", "r1_volts": "11.4"}
    expect(page.locator("#part-picture svg").first).to_be_visible()
    says = page.locator("h1").inner_text()
    page.reload()
    assert page.locator("h1").inner_text() == says
    watch.clean()
    page.context.close()


def test_half_a_word_leaves_the_answer_and_says_what_is_wanted(browser: Browser, standing: str) -> None:
    """While something cannot be read the old answer stays, and the sentence goes when it can."""
    page, watch = open_page(browser)
    page.goto(standing + ADDRESS)
    says = page.locator("h1").inner_text()
    box = page.locator("#r1-more")
    box.fill("cas")
    expect(page.locator("#part-wrong")).to_contain_text("is not understood")
    assert page.locator("h1").inner_text() == says
    box.fill("case 45 degC")
    expect(page.locator("#part-wrong .problem")).to_have_count(0)
    watch.clean()
    page.context.close()


def test_it_goes_by_keys_alone(browser: Browser, standing: str) -> None:
    """From the first box to the answer with Tab and letters; the focus stays where it was and can be seen."""
    page, watch = open_page(browser)
    page.goto(standing + "/mend")
    page.locator("#r1-cadence").focus()
    for text in ("62", "-11", "3.1"):
        page.keyboard.type(text)
        page.keyboard.press("Tab")
    expect(page.locator(".verdict")).to_have_text("stop")
    settle(page)
    assert page.evaluate("document.activeElement.id") == "r1-volts_out"
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("Most likely")
    watch.clean()
    page.context.close()


def test_it_works_without_script(browser: Browser, standing: str) -> None:
    """The button asks, one more row opens, and the boxes keep what was typed."""
    page, _watch = open_page(browser, script=False)
    page.goto(standing + "/mend")
    page.locator("#r1-cadence").fill("62")
    page.locator("#r1-volts").fill("11.4")
    page.get_by_role("button", name="What is wrong?").click()
    expect(page.locator("h1")).to_contain_text("Most likely the rim belt slips")
    page.get_by_role("button", name="One more moment").click()
    expect(page.locator("fieldset.moment")).to_have_count(3)
    expect(page.locator("#r1-volts")).to_have_value("11.4")
    page.context.close()


def test_an_unfolded_cause_stays_so(browser: Browser, standing: str) -> None:
    """Typing on does not fold what somebody reads."""
    page, watch = open_page(browser)
    page.goto(standing + ADDRESS)
    page.locator("#gives-1 summary").click()
    page.locator("#r1-amps").fill("2.9")
    page.wait_for_url("**r1_amps=2.9**")
    settle(page)
    assert page.locator("#gives-1").get_attribute("open") is not None
    watch.clean()
    page.context.close()


def test_on_paper_it_keeps_answer_check_and_picture(browser: Browser, standing: str) -> None:
    """Printed it says the same, on white."""
    page, _watch = open_page(browser)
    page.goto(standing + ADDRESS)
    text = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(page.pdf(format="A4"))).pages)
    flat = " ".join(text.split())
    assert "Most likely the rim belt slips" in flat
    assert "What it can be" in flat
    page.context.close()
