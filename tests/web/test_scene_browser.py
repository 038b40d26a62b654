"""The page of a scene in a real browser: it plays, it redraws as one types, by keys alone, on a phone, dark, on paper.

The motion is a toy (the words are read in earnest); `test_browser` opens the same page over the real thing.
"""

from __future__ import annotations

import io
import tomllib
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader
from tests.web import fake_tasks
from tests.web.browser import axe_in_both_rooms, open_page
from tests.web.conftest import RIG, served

from sparewatt.web import scene_routes

WORDS = "at 5 s pull the plug; at 12 s shift up; at 20 s plug it back in"
ADDRESS = "/scene?words=" + WORDS.replace(" ", "+").replace(";", "%3B")
KEPT = """
[[scene]]
name = "the plug is pulled"
gear = "42/21"
effort = "112 W"

[[scene.step]]
at = "5 s"
do = "pull the plug"
"""


@pytest.fixture(scope="module")
def playing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The app over toy motion, for tests that only look."""
    place = tmp_path_factory.mktemp("stilts")
    (place / "rig.toml").write_text(RIG + KEPT, encoding="utf-8")
    with served(place, place / "home", tasks=fake_tasks) as address:
        yield address


def settle(page: Page) -> None:
    """Wait until no piece of the page waits for an answer."""
    expect(page.locator(".waiting")).to_have_count(0)


def question(page: Page) -> dict[str, str]:
    """The question in the address."""
    return dict(parse_qsl(urlsplit(page.url).query))


def head_at(page: Page) -> float:
    """Where the play-head stands in the picture that shows, px of the drawing."""
    return float(
        page.evaluate(
            """() => { const svg = [...document.querySelectorAll('#part-picture svg')].find(s => s.getClientRects().length);
            return svg.querySelector('[data-head]').transform.baseVal.consolidate().matrix.e; }"""
        )
    )


def second(page: Page) -> float:
    """The second that the play-head stands at."""
    return float(page.locator("#clock").inner_text().split()[0].split("\u2009")[0])


@pytest.mark.parametrize("address", [ADDRESS, "/scene", "/scene?words=at+5+s+kaboom"])
def test_the_page_is_clean_and_accessible(browser: Browser, playing: str, address: str) -> None:
    """No message, no request outside, nothing held against it (WCAG 2.2 AA), unfolded and while the player is in use."""
    page, watch = open_page(browser)
    page.goto(playing + address)
    assert axe_in_both_rooms(page) == []
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    if "kaboom" not in address:
        page.locator("#scrub").press("ArrowRight")
    assert axe_in_both_rooms(page) == []
    watch.messages = [m for m in watch.messages if "400" not in m]  # the browser notes a page that is not 200
    watch.clean()
    page.context.close()


@pytest.mark.parametrize(
    "address", [ADDRESS, "/scene?words=at+5+s+kaboom", ADDRESS + "&beside=diode.kind+%3D+silicon"]
)
def test_the_page_fits_a_phone(browser: Browser, playing: str, address: str) -> None:
    """At 390 px nothing sticks out, no letter is under 15 px, what is pressed is 44 px high."""
    page, watch = open_page(browser, wide=390, tall=844)
    page.goto(playing + address)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    if "kaboom" not in address:
        page.locator("#scrub").press("ArrowRight")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    small = page.evaluate(
        """() => [...document.querySelectorAll('body *')]
        .filter(e => e.getClientRects().length && !e.closest('.out-of-sight'))
        .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
        .filter(e => { const svg = e.closest('svg'), size = parseFloat(getComputedStyle(e).fontSize);
          return (svg ? size * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : size) < 14.9; })
        .map(e => e.textContent.trim().slice(0, 40))"""
    )
    assert small == []
    low = page.evaluate(
        """() => [...document.querySelectorAll('button, select, input:not([type=hidden]), summary, .button, .scenes a')]
        .filter(e => e.getClientRects().length && !e.classList.contains('out-of-sight'))
        .filter(e => e.getBoundingClientRect().height < 43.5)
        .map(e => e.outerHTML.slice(0, 80))"""
    )
    assert low == []
    watch.messages = [m for m in watch.messages if "400" not in m]
    watch.clean()
    page.context.close()


def test_it_plays_pauses_and_is_scrubbed(browser: Browser, playing: str) -> None:
    """The head runs in real time over the picture, faster when asked; the numbers and words beside it follow."""
    page, watch = open_page(browser)
    page.goto(playing + ADDRESS)
    start = head_at(page)
    page.locator("#play").click()
    expect(page.locator("#play")).to_have_text("Pause")
    page.wait_for_timeout(1500)
    page.locator("#play").click()
    expect(page.locator("#play")).to_have_text("Play")
    one = second(page)
    assert 0.8 <= one <= 4.0
    assert head_at(page) > start
    page.wait_for_timeout(300)
    assert second(page) == one
    page.locator("#pace").select_option("10")
    page.locator("#play").click()
    expect(page.locator("#play")).to_have_text("Play", timeout=15_000)  # it stops by itself at the end
    assert second(page) == 30.0
    assert page.locator("#just").inner_text().startswith("4. At 20.0 s")
    page.locator("#scrub").evaluate(
        "e => { e.value = 6; e.dispatchEvent(new Event('input', {bubbles: true})); }"
    )
    assert second(page) == 6.0
    x = page.evaluate(
        "() => { const d = document.querySelector('#part-picture .dw-wide').dataset; return [+d.x0, +d.x1]; }"
    )
    assert head_at(page) == pytest.approx(x[0] + (x[1] - x[0]) * 6 / 30, abs=0.2)
    hands = page.locator("#hands").inner_text()
    assert "turns a minute" in hands
    assert "kJ" in hands
    assert "clamp" in page.locator("#just").inner_text()
    page.locator("#play").click()  # from the middle it goes on from there
    page.wait_for_timeout(250)
    page.locator("#play").click()
    assert second(page) > 6.0
    watch.clean()
    page.context.close()


def test_the_picture_itself_takes_keys_and_presses(browser: Browser, playing: str) -> None:
    """Space plays and pauses, arrows step, Page Down goes to what happens next; a press on the picture moves the head."""
    page, watch = open_page(browser)
    page.goto(playing + ADDRESS)
    picture = page.locator("#part-picture")
    picture.focus()
    ring = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert ring != "none"
    page.keyboard.press("Space")
    expect(page.locator("#play")).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("Space")
    expect(page.locator("#play")).to_have_attribute("aria-pressed", "false")
    page.keyboard.press("Home")
    assert second(page) == 0.0
    page.keyboard.press("ArrowRight")
    assert second(page) == pytest.approx(0.3)
    page.keyboard.press("PageDown")
    assert second(page) == 5.0
    page.keyboard.press("PageDown")
    assert second(page) == pytest.approx(5.4)
    page.keyboard.press("PageUp")
    assert second(page) == 5.0
    page.keyboard.press("End")
    assert second(page) == 30.0
    box = page.locator("#part-picture .dw-wide").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] * 0.4, box["y"] + 60)
    assert 8 < second(page) < 18
    page.get_by_role("button", name="20.0 s").click()  # in the list of what happens
    assert second(page) == 20.0
    watch.clean()
    page.context.close()


def test_a_head_in_motion_says_little(browser: Browser, playing: str) -> None:
    """Those who listen hear what happens, one sentence at a time, and no numbers; little motion means one step a second."""
    page, watch = open_page(browser)
    page.emulate_media(reduced_motion="reduce")
    page.goto(playing + ADDRESS)
    page.evaluate(
        """() => { window.said = []; window.moved = new Set();
        new MutationObserver(() => window.said.push(document.getElementById('heard').textContent))
          .observe(document.getElementById('heard'), {childList: true, characterData: true, subtree: true});
        new MutationObserver((all) => all.forEach(m => window.moved.add(m.target.getAttribute('transform'))))
          .observe(document.getElementById('part-picture'),
            {attributes: true, subtree: true, attributeFilter: ['transform']}); }"""
    )
    page.locator("#pace").select_option("10")
    page.locator("#play").click()
    expect(page.locator("#play")).to_have_text("Play", timeout=15_000)
    said = page.evaluate("window.said")
    assert 1 <= len(said) <= 3  # four things happen within three seconds
    assert all(words.endswith(".") for words in said)
    assert page.locator("#hands").get_attribute("aria-live") is None
    assert page.evaluate("window.moved.size") <= 2 * 6  # two pictures, at most six places in three seconds
    watch.clean()
    page.context.close()


def test_words_redraw_the_page_as_they_are_typed(browser: Browser, playing: str) -> None:
    """Typing changes picture, steps, happenings and address; bands come after; what cannot be read is said, not lost."""
    page, watch = open_page(browser)
    page.goto(playing + "/scene?words=at+5+s+pull+the+plug")
    page.evaluate("window.stayed = true")
    before = page.locator("#part-picture").inner_html()
    words = page.locator("#c-words")
    words.focus()
    page.keyboard.press("End")
    page.keyboard.type("; at 9 s plug it back in", delay=15)
    expect(page.locator("#part-steps li")).to_have_count(2)
    settle(page)
    assert page.locator("#part-picture").inner_html() != before
    assert question(page)["words"] == "at 5 s pull the plug; at 9 s plug it back in"
    assert page.locator("#part-picture .df-band").count() > 0  # the bands of the whole answer
    assert "200 runs" in page.locator("#part-chances").inner_text()
    page.keyboard.type("; at 11 s swich the lamp on", delay=10)
    expect(page.locator("#part-wrong")).to_contain_text("swich the lamp on")
    assert page.locator("#part-picture svg").count() > 0  # the old picture stays, greyed
    assert "waiting" in str(page.locator("#part-picture").get_attribute("class"))
    assert words.input_value() == "at 5 s pull the plug; at 9 s plug it back in; at 11 s swich the lamp on"
    assert words.get_attribute("aria-invalid") == "true"
    assert page.evaluate("document.activeElement.id") == "c-words"
    words.fill("at 7 s pull the plug")
    expect(page.locator("#part-steps li")).to_have_count(1)
    expect(page.locator("#part-wrong")).to_have_text("")
    settle(page)
    assert words.get_attribute("aria-invalid") is None
    assert page.evaluate("window.stayed") is True
    watch.clean()  # half-typed words are ordinary answers: the browser notes nothing
    page.context.close()


def test_bands_follow_a_page_that_did_not_wait(
    browser: Browser, playing: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A slow scene comes with one run; the bands are there a moment later, without a press."""
    monkeypatch.setattr(scene_routes, "SOON", -1.0)
    page, watch = open_page(browser)
    page.goto(playing + ADDRESS)
    expect(page.locator("#part-picture .df-band").first).to_be_attached()
    expect(page.locator("#part-chances")).to_contain_text("200 runs")
    assert question(page) == {"words": WORDS}
    watch.clean()
    page.context.close()


def test_boxes_redraw_the_page_and_go_before_the_words(browser: Browser, playing: str) -> None:
    """A slider, a choice and a text box each redraw in place; what the words said of the start moves to the boxes."""
    page, watch = open_page(browser)
    page.goto(playing + "/scene?words=Bao+rides+from+rest,+for+40+s%3B+at+5+s+pull+the+plug")
    assert page.locator("#c-start").input_value() == "rest"
    assert page.locator("#c-rider").input_value() == "Bao"
    before = page.locator("h1").inner_text()
    page.locator("#c-effort").focus()
    for _ in range(6):
        page.keyboard.press("ArrowRight")
    settle(page)
    assert page.locator("h1").inner_text() != before
    assert (
        page.locator("#c-words").input_value().startswith("Bao rides from rest")
    )  # the effort is not theirs
    page.locator("#c-start").select_option("riding")
    settle(page)
    asked = question(page)
    assert asked["words"] == "at 5 s pull the plug"
    assert (asked["rider"], asked["start"], asked["duration"]) == ("Bao", "riding", "40 s")
    page.locator("#c-duration").fill("20")
    settle(page)
    expect(page.locator("#clock")).to_contain_text("20.0")
    page.go_back()
    expect(page.locator("#c-duration")).to_have_value("40 s")
    watch.clean()
    page.context.close()


def test_steps_are_moved_added_and_taken_out(browser: Browser, playing: str) -> None:
    """Quick presses add up; a step that passes another keeps the focus; everything ends in the words."""
    page, watch = open_page(browser)
    page.goto(playing + ADDRESS)
    later = page.locator('#part-steps li:nth-child(1) [data-edit="later"]')
    later.focus()
    for _ in range(9):
        page.keyboard.press("Enter")
    settle(page)
    assert (
        page.locator("#c-words").input_value()
        == "at 12 s shift up; at 14 s pull the plug; at 20 s plug it back in"
    )
    focus = page.evaluate(
        "[document.activeElement.dataset.edit, document.activeElement.closest('li')?.dataset.text]"
    )
    assert focus == ["later", "pull the plug"]
    page.locator('#part-steps li:nth-child(1) [data-edit="out"]').click()
    settle(page)
    assert question(page)["words"] == "at 14 s pull the plug; at 20 s plug it back in"
    page.locator("#c-when").fill("3")
    page.locator("#c-more").select_option("sprint")
    page.get_by_role("button", name="Add it").click()
    settle(page)
    assert page.locator("#part-steps li").count() == 3
    assert "at 3 s sprint" in page.locator("#c-words").input_value()
    page.go_back()
    expect(page.locator("#part-steps li")).to_have_count(2)
    watch.clean()
    page.context.close()


def test_a_scene_of_the_file_is_played_and_changed(browser: Browser, playing: str) -> None:
    """Chosen by its name; a step moved makes it a scene in words with everything the file said."""
    page, watch = open_page(browser)
    page.goto(playing + ADDRESS)
    page.get_by_role("link", name="the plug is pulled").click()
    assert question(page) == {"name": "the plug is pulled"}
    page.locator('[data-edit="later"]').click()
    settle(page)
    asked = question(page)
    assert asked == {
        "words": "at 6 s pull the plug", "gear": "42/21", "effort": "112 W",
    }  # fmt: skip
    assert page.locator(".scenes [aria-current]").count() == 0
    watch.clean()
    page.context.close()


def test_the_head_stays_while_the_picture_changes(browser: Browser, playing: str) -> None:
    """A redraw under a playing head keeps it playing, at its second."""
    page, watch = open_page(browser)
    page.goto(playing + ADDRESS)
    page.locator("#play").click()
    page.wait_for_timeout(400)
    page.locator('#part-steps li:nth-child(3) [data-edit="sooner"]').click()
    settle(page)
    expect(page.locator("#play")).to_have_text("Pause")
    assert 0.4 < second(page) < 12
    assert head_at(page) > 0
    assert page.evaluate(
        "!document.querySelector('#part-picture .dw-wide [data-head]').hasAttribute('visibility')"
    )
    watch.clean()
    page.context.close()


def test_links_and_the_scene_that_is_kept_follow_what_is_shown(
    browser: Browser, folder: Path, tmp_path: Path
) -> None:
    """After a change the files and the kept scene are those of the changed one."""
    with served(folder, tmp_path / "home", tasks=fake_tasks) as address:
        page, watch = open_page(browser)
        page.goto(address + ADDRESS)
        page.locator('#part-steps li:nth-child(3) [data-edit="out"]').click()
        settle(page)
        left = "at 5 s pull the plug; at 12 s shift up"
        link = str(page.locator('a[data-to="/scene.csv"]').get_attribute("href"))
        assert dict(parse_qsl(urlsplit(link).query)) == {"words": left}
        page.locator("#keep-name").fill("two steps")
        page.get_by_role("button", name="Keep this scene").click()
        expect(page.locator(".strip-note")).to_contain_text("two steps")
        kept = tomllib.loads((folder / "rig.toml").read_text(encoding="utf-8"))["scene"]
        assert [step["do"] for step in kept[0]["step"]] == ["pull the plug", "shift up"]
        page.get_by_role("button", name="Undo").click()
        expect(page.locator(".strip-note")).to_have_count(0)
        assert (folder / "rig.toml").read_text(encoding="utf-8") == RIG
        assert page.locator("#c-words").input_value() == left
        watch.clean()
        page.context.close()


def test_another_design_is_set_beside_and_taken_away(browser: Browser, playing: str) -> None:
    """Chosen like a change to try; both lines stand in one picture; changes of the scene move both."""
    page, watch = open_page(browser)
    page.goto(playing + ADDRESS)
    page.locator("details.change summary").click()
    page.locator("#c-key").select_option("stage.1.driven_diameter")
    page.locator("#c-value").fill("57 mm")
    page.get_by_role("button", name="Set it beside", exact=True).click()
    expect(page.locator(".beside")).to_contain_text("57 mm")
    assert question(page) == {"words": WORDS, "beside": "stage.1.driven_diameter = 57 mm"}
    assert "dashed" in page.locator("#part-picture .dw-wide").text_content()  # type: ignore[operator]
    page.locator('[data-edit="later"]').first.click()
    settle(page)
    expect(page.locator(".beside")).to_contain_text("57 mm")
    assert question(page)["beside"] == "stage.1.driven_diameter = 57 mm"
    page.get_by_role("link", name="Take it away").click()
    expect(page.locator(".beside")).to_have_count(0)
    watch.clean()
    page.context.close()


def test_everything_works_by_keyboard(browser: Browser, playing: str) -> None:
    """Tab reaches the picture, the player, the words, every step and every box, each with a visible ring."""
    page, watch = open_page(browser)
    page.goto(playing + ADDRESS)
    reached = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        name = page.evaluate(
            "document.activeElement.id || document.activeElement.dataset.edit || document.activeElement.tagName"
        )
        ring = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert name == "BODY" or ring != "none", name
        reached.add(name)
    assert {
        "part-picture", "play", "scrub", "pace", "c-words", "sooner", "later", "out", "c-when", "c-more", "c-rider",
        "c-load", "c-gear", "c-start", "c-holds", "c-cadence", "c-duration", "c-effort", "keep-name",
    } <= reached  # fmt: skip
    watch.clean()
    page.context.close()


def test_everything_works_without_scripts(browser: Browser, folder: Path, tmp_path: Path) -> None:
    """Forms, links and buttons alone: move a step, ask another way, keep the scene, take it back."""
    with served(folder, tmp_path / "home", tasks=fake_tasks) as address:
        page, watch = open_page(browser, script=False)
        page.goto(address + ADDRESS)
        assert not page.locator("#player").is_visible()
        page.locator('#part-steps li:nth-child(2) [data-edit="later"]').click()
        assert question(page)["words"] == "at 5 s pull the plug; at 13 s shift up; at 20 s plug it back in"
        page.locator("#c-words").fill("at 4 s pull the plug")
        page.locator("#c-gear").select_option("42/24")
        page.locator("#c-words").press("Tab")
        page.locator("#c-duration").fill("25 s")
        page.locator("#c-duration").press("Enter")  # not the first step's button
        asked = question(page)
        assert (asked["words"], asked["gear"], asked["duration"]) == ("at 4 s pull the plug", "42/24", "25 s")
        page.locator("#c-when").fill("9")
        page.locator("#c-more").select_option("plug it back in")
        page.get_by_role("button", name="Add it").click()
        assert page.locator("#part-steps li").count() == 2
        page.locator("#keep-name").fill("plain")
        page.get_by_role("button", name="Keep this scene").click()
        expect(page.locator(".strip-note")).to_contain_text("plain")
        page.get_by_role("button", name="Undo").click()
        assert (folder / "rig.toml").read_text(encoding="utf-8") == RIG
        watch.clean()
        page.context.close()


def test_the_page_prints_on_white_paper(browser: Browser, playing: str) -> None:
    """From the dark room: black on white, the picture and what happens there with its times, the controls gone."""
    page, watch = open_page(browser, room="dark")
    page.goto(playing + ADDRESS)
    made = PdfReader(io.BytesIO(page.pdf(format="A4", print_background=True)))
    text = " ".join(" ".join(p.extract_text().split()) for p in made.pages)
    assert "It holds at" in text
    assert "12.0 s Shift to 42/18" in text
    assert "Change it and see" not in text
    assert "as it is" not in text  # the player
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    assert page.locator("#part-picture .dw-wide").is_visible()
    watch.clean()
    page.context.close()


def test_the_dark_room_has_no_blue(browser: Browser, playing: str) -> None:
    """No colour of the page leans to blue, so that eyes stay adapted."""
    page, watch = open_page(browser, room="dark")
    page.goto(playing + ADDRESS)
    page.locator("#scrub").press("ArrowRight")
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


def test_an_hour_is_played_in_a_minute_or_so(browser: Browser, playing: str) -> None:
    """A long scene offers faster paces and takes a fitting one by itself; its clock counts minutes."""
    page, watch = open_page(browser)
    page.goto(playing + "/scene?words=for+1+h")
    assert page.locator("#pace").input_value() == "60"
    assert "min" in page.locator("#clock").inner_text() or "h" in page.locator("#clock").inner_text()
    page.goto(playing + ADDRESS)
    assert page.locator("#pace").input_value() == "1"
    assert page.locator("#pace option").count() == 3
    watch.clean()
    page.context.close()
