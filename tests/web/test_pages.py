"""The pages over stand-in tasks: every route, the address as the only state, the words, the fragments, the files to take."""

from __future__ import annotations

import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from fastapi.testclient import TestClient
from pypdf import PdfReader
from tests.web import fake_tasks

from sparewatt.errors import BadRequest
from sparewatt.files import demo_list, write_demo
from sparewatt.present.words_numbers import time_span
from sparewatt.web.app import create_app
from sparewatt.web.match_page import FRAGMENTS, QUICK
from sparewatt.web.question import TRY_LIMIT, Question
from sparewatt.web.site import SECTIONS
from sparewatt.web.speech import headline, without

PAGES = ["/", "/match", "/worth", "/loads", "/guard", "/heap", "/bench", "/mend", "/rig", "/files", "/code"]
FORBIDDEN = re.compile(r"\b(error|invalid|optimal|safe|guaranteed)\b", re.IGNORECASE)


class Reader(HTMLParser):
    """Collects what a page says and holds, and complains of tags that do not close."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.labels: set[str] = set()
        self.fields: list[dict[str, str]] = []
        self.styled: list[str] = []
        self.scripts: list[dict[str, str]] = []
        self.open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note ids, links, fields and anything the page's policy forbids."""
        given = {k: v or "" for k, v in attrs}
        if "id" in given:
            self.ids.append(given["id"])
        if tag == "a" and "href" in given:
            self.links.append(given["href"])
        if tag == "label" and "for" in given:
            self.labels.add(given["for"])
        if tag in ("input", "select", "textarea") and given.get("type") != "hidden":
            self.fields.append(given)
        if "style" in given or any(k.startswith("on") for k in given) or tag == "style":
            self.styled.append(f"{tag} {given}")
        if tag == "script":
            self.scripts.append(given)
        self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Forget the tag that closes."""
        if tag in self.open:
            while self.open.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        """Keep what is said."""
        if not {"script", "style"} & set(self.open):
            self.words.append(data)


@pytest.mark.parametrize("path", PAGES)
def test_every_page_opens_and_keeps_to_the_policy(client: TestClient, path: str) -> None:
    """200, one h1, no inline style or script, unique ids, a label for every field, no word that promises or scolds."""
    reply = client.get(path)
    assert reply.status_code == 200
    page = Reader(reply.text)
    assert reply.text.count("<h1") == 1
    assert page.styled == []
    assert all(script.get("src", "").startswith("/static/") for script in page.scripts)
    assert len(page.ids) == len(set(page.ids))
    for field in page.fields:
        assert field.get("id") in page.labels or field.get("aria-label"), field
    said = " ".join(page.words)
    assert not FORBIDDEN.search(said), FORBIDDEN.search(said)
    assert "http://" not in reply.text.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert "https://" not in reply.text


@pytest.mark.parametrize("path", PAGES)
def test_no_link_is_dead(client: TestClient, path: str) -> None:
    """Every link of every page answers."""
    for link in Reader(client.get(path).text).links:
        if link.startswith("#"):
            continue
        assert link.startswith("/"), link
        assert client.get(link).status_code == 200, (path, link)


@pytest.mark.parametrize(("path", "task"), [("/sheet.pdf", "sheet"), ("/wiring.pdf", "wiring_sheet")])
def test_paper_is_made_of_the_question_on_the_screen(client: TestClient, path: str, task: str) -> None:
    """Both papers open in the browser, in the units of the page, with what is being tried."""
    fake_tasks.calls.clear()
    reply = client.get(path, params={"units": "inch", "try": "battery.capacity = 44 Ah"})
    assert reply.headers["content-type"] == "application/pdf"
    assert reply.headers["content-disposition"].startswith("inline")
    ((name, asked),) = [call for call in fake_tasks.calls if call[0] in ("sheet", "wiring_sheet")]
    assert (name, asked["units"]) == (task, "inch")
    assert asked["changes"] == (("battery.capacity", "44 Ah"),)


def test_the_wiring_of_a_real_rig_is_one_page_linked_from_guard(folder: Path, tmp_path: Path) -> None:
    """With the real tasks: one A4 page, or one letter page where inches are used; guard and the files page lead to it."""
    app = create_app(folder, home=tmp_path / "home")
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000)) as one:
        for units, size in (("metric", [595, 842]), ("inch", [612, 792])):
            made = PdfReader(io.BytesIO(one.get("/wiring.pdf", params={"units": units}).content))
            assert [round(float(x)) for x in made.pages[0].mediabox[2:]] == size
            assert len(made.pages) == 1
        for page in ("/guard", "/files"):
            assert "/wiring.pdf" in Reader(one.get(page).text).links


def test_the_edges_are_folded_under_the_leg_picture(folder: Path, tmp_path: Path) -> None:
    """With the real tasks: the three edges wait in a fold, and are left alone while a slider moves."""
    app = create_app(folder, home=tmp_path / "home")
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000)) as one:
        page = one.get("/match").text
        fold = page.partition('id="edges"')[2].partition("</details>")[0]
        assert "What limits you" in fold
        assert "Three edges against cadence" in fold
        assert "part-edges" not in QUICK
        assert "What limits you" in one.get("/match/part").json()["parts"]["part-edges"]


@pytest.mark.parametrize("demo", [d.key for d in demo_list()])
def test_the_demos_read_well(tmp_path: Path, demo: str) -> None:
    """Real tasks: large words are few, no amount is arithmetic's dust, and a battery's hours stand with its load."""
    write_demo(demo, tmp_path)
    app = create_app(tmp_path, home=tmp_path / "home")
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000)) as one:
        for path in ("/match", "/loads", "/guard", "/worth", "/heap"):
            text = one.get(path).text
            said = " ".join(Reader(text).words)
            assert not re.search(r"\d(\.\d+)?e[-\u2212+]?\d", said), path
            assert not re.search(r"akes 0(?!\.)\s?m?A\b", said), path
            head = re.search(r'<h1 class="answer">(.*?)</h1>', text, re.DOTALL)
            assert head is not None
            assert len(head[1].split()) <= 60, path  # one sentence alone may be longer than forty words
        answer = app.state.site.desk.ask("loads")
        held = [row.run for row in answer.study.rows if row.run and row.verdict != "not by legs"]
        page = one.get("/loads").text
        for run in held:
            assert time_span(run.time) in page
            assert time_span(run.legs_time) in page
        if held:
            assert "Riding to put it back" in page
        assert ("Charging, hour by hour" in page) == (answer.study.charge is not None)


def test_an_answer_is_said_large_up_to_forty_words() -> None:
    """Whole sentences only, at least one, and nothing is lost."""
    short, long = "Yes: it runs at 0.5 A.", "It " + "really " * 45 + "does."
    assert headline(f"{short} {long}") == ("Yes: it runs at 0.5\u00a0A.", long)
    assert headline(long) == (long, "")
    assert headline(f"{long} {short}")[0] == long
    assert headline(f"{short} {short}")[1] == ""
    assert headline(f"{long} {short} More.", [f"Below. {short}"]) == (long, "More.")
    assert without(f"{short} More.", [short]) == "More."


def test_the_strip_shows_only_sections_that_exist(client: TestClient) -> None:
    """Each word on the strip leads to a page; the current one is marked."""
    page = client.get("/match").text
    assert re.findall(r'data-keep="(/\w+)" title', page) == [s[0] for s in SECTIONS]
    assert re.search(r'href="/match"[^>]*aria-current="page"', page)


def test_pages_without_a_rig_say_how_to_begin(empty: TestClient) -> None:
    """Nothing is open: a 404 that names the first page, and no strip of sections."""
    for path in ("/match", "/worth", "/loads", "/guard", "/heap", "/rig", "/files"):
        reply = empty.get(path)
        assert reply.status_code == 404, path
        assert "first page" in reply.text.lower()
    assert 'aria-label="Sections"' not in empty.get("/").text


def test_the_match_page_says_first_things_first(client: TestClient) -> None:
    """Verdict, answer, what binds, nearest yes, chain, controls, legs, room, gears, settings, hazards: in this order."""
    page = client.get("/match").text
    marks = [
        'class="verdict', 'class="answer"', "What binds", 'id="part-yes"', 'id="part-chain"', 'id="controls"',
        'id="part-legs"', 'id="part-room"', 'id="part-gears"', 'id="part-settings"', 'id="part-hazards"',
        'id="part-details"', "Keep in mind", "Where the formulas come from",
    ]  # fmt: skip
    places = [page.index(mark) for mark in marks]
    assert places == sorted(places)


def test_hazards_of_the_match_stand_on_its_page(client: TestClient) -> None:
    """What the register finds for the match is shown where the match is decided, with what to do."""
    page = client.get("/match").text
    assert "No fuse at the battery post" in page
    assert "Fit 10\u00a0A within 200\u00a0mm of the post." in page


def test_a_no_is_drawn_apart_from_a_yes_without_colour(client: TestClient) -> None:
    """The box of a refusal has a form of its own, and the word stands in it."""
    assert re.search(r'class="verdict no">not by legs', client.get("/match?effort=350").text)
    assert re.search(r'class="verdict hard">hard work', client.get("/match?effort=200").text)


def test_the_address_is_the_whole_state(client: TestClient) -> None:
    """What was asked comes back in the controls, and every other link on the page keeps it."""
    asked = "/match?rider=Bao&load=lamp&gear=42%2F21&effort=140+W&cadence=65+rpm&duration=30+min&units=inch&room=dark"
    page = client.get(asked).text
    assert "<option selected>Bao</option>" in page
    assert "<option selected>42/21</option>" in page
    assert 'value="140"' in page
    assert 'name="cadence"' in page
    assert 'value="65"' in page
    assert 'data-room="dark"' in page
    guard = next(link for link in Reader(page).links if link.startswith("/guard"))
    kept = parse_qs(urlsplit(guard).query)
    assert kept["gear"] == ["42/21"]
    assert kept["effort"] == ["140 W"]
    assert kept["units"] == ["inch"]


def test_bare_numbers_from_the_boxes_get_their_unit(client: TestClient) -> None:
    """140 in the effort box is watts, 65 in the cadence box turns a minute, 30 in the time box minutes."""
    fake_tasks.calls.clear()
    q = Question.read([("effort", "140"), ("cadence", " 65 "), ("duration", "30"), ("gear", "42/18")])
    assert (q.effort, q.cadence, q.duration, q.gear) == ("140 W", "65 rpm", "30 min", "42/18")
    client.get("/match?effort=140")
    assert fake_tasks.calls[-1][1]["effort"] == "140 W"


def test_questions_round_trip_through_the_address() -> None:
    """Reading what was written gives the same question, tried changes of several lines among them."""
    q = Question(
        rider="Lan & co", load="lamp", gear="42/18", effort="100 W", people=3, units="inch", room="dark",
        tries=(("stage.1.driven_diameter", "57 mm"), ("converter+", 'name = "b"\nkind = "buck"')),
    )  # fmt: skip
    assert Question.read(q.pairs()) == q
    assert q.link("/match") == Question.read(q.pairs()).link("/match")
    assert Question().link("/match") == "/match"


@pytest.mark.parametrize(
    "pair",
    [("units", "furlong"), ("room", "bright"), ("people", "0"), ("people", "many"), ("people", "1e3"), ("try", "no sign"),
     ("try", "= 5"), ("gear", "x" * 201), ("rider", "a\x00b")],
)  # fmt: skip
def test_bad_words_in_the_address_are_named(client: TestClient, pair: tuple[str, str]) -> None:
    """A 400 page that says where and what to try; the same as JSON."""
    with pytest.raises(BadRequest):
        Question.read([pair])
    reply = client.get("/match", params=[pair])
    assert reply.status_code == 400
    assert "Ask again with the usual question" in reply.text or not reply.text.count("back")


def test_too_many_tries_are_refused() -> None:
    """A bound on the changes that are tried together."""
    with pytest.raises(BadRequest, match="keep some first"):
        Question.read([("try", f"load.{k}.power = 1 W") for k in range(TRY_LIMIT + 1)])


def test_all_bad_words_are_told_at_once(client: TestClient) -> None:
    """Two slips in one address are two lines."""
    reply = client.get("/match?units=furlong&people=none")
    assert reply.text.count('class="check"') == 2


def test_a_question_the_rig_cannot_answer_is_a_page_not_a_crash(client: TestClient) -> None:
    """A gear that is not there: 400, the gears that are, and a way back."""
    reply = client.get("/match?gear=11%2F11&units=inch")
    assert reply.status_code == 400
    assert "42/18" in reply.text
    assert 'href="/match?units=inch"' in reply.text


def test_what_is_typed_is_shown_as_text(client: TestClient) -> None:
    """A name with mark-up in it stays a name."""
    for path in ("/match", "/worth"):
        page = client.get(
            path, params={"rider": "<script>alert(1)</script>", "try": 'machine.x = "><img src=x>'}
        ).text
        assert "<script>alert" not in page
        assert "<img" not in page


# ---- tried changes


def test_the_nearest_yes_can_be_tried_kept_and_dropped(client: TestClient, folder: Path) -> None:
    """Its button tries it; the strip says so, with what stood there before; keep writes it; undo takes it back."""
    before = (folder / "rig.toml").read_text(encoding="utf-8")
    href = next(link for link in Reader(client.get("/match").text).links if "try=" in link)
    fake_tasks.calls.clear()
    page = client.get(href).text
    assert fake_tasks.calls[-1][1]["changes"] == (("stage.1.driven_diameter", "57 mm"),)
    assert "rim belt: driven diameter" in page
    assert "instead of 40 mm" in page
    assert (folder / "rig.toml").read_text(encoding="utf-8") == before

    strip = page[page.index('class="trying"') : page.index('action="/rig/keep"')]
    dropped = Reader(strip).links[0]
    assert "try=" not in dropped
    assert client.get(dropped).status_code == 200

    form = dict(re.findall(r'<input type="hidden" name="(seen|edit|back)" value="([^"]*)"', page))
    kept = client.post("/rig/keep", data=form)
    assert kept.status_code == 303
    assert kept.headers["location"].startswith("/match")
    assert "try=" not in kept.headers["location"]
    after = (folder / "rig.toml").read_text(encoding="utf-8")
    assert after == before.replace('"40 mm"', '"57 mm"')
    assert "Rim belt: driven diameter is now 57 mm." in client.get("/match").text

    assert client.post("/rig/undo", data={"back": "/match"}).status_code == 303
    assert (folder / "rig.toml").read_text(encoding="utf-8") == before
    assert "Undo" not in client.get("/match").text


def test_the_two_boxes_of_change_a_part_make_a_try(client: TestClient) -> None:
    """Without a script the form sends a key and a value."""
    fake_tasks.calls.clear()
    client.get("/match?key=machine.resistance&value=0.4+ohm")
    assert fake_tasks.calls[-1][1]["changes"] == (("machine.resistance", "0.4 ohm"),)


# ---- fragments


def test_one_answer_redraws_the_page(client: TestClient) -> None:
    """The fragments have the ids of the page, and the links carry the new question."""
    answer = client.get("/match/part?effort=140&gear=42%2F21").json()
    assert answer["ok"] is True
    assert set(answer["parts"]) == set(FRAGMENTS)
    page = client.get("/match?effort=140&gear=42%2F21").text
    for name, html in answer["parts"].items():
        assert f'id="{name}"' in page
        assert " ".join(html.split()) in " ".join(page.split()), name
    assert "effort=140+W" in answer["links"]["/guard"]
    assert answer["fields"]["effort"].startswith("140")


def test_dragging_asks_for_few_draws_and_letting_go_for_all(client: TestClient) -> None:
    """While a slider moves only what it moves is drawn, from fewer draws."""
    fake_tasks.calls.clear()
    quick = client.get("/match/part?effort=141&quick=wide").json()
    full = client.get("/match/part?effort=141").json()
    assert [call[1]["draws"] for call in fake_tasks.calls if call[0] == "match"] == [128, 1024]
    assert set(quick["parts"]) == set(QUICK)
    assert set(full["parts"]) == set(FRAGMENTS)


def test_a_moving_slider_gets_what_is_on_the_screen(client: TestClient) -> None:
    """Only the pieces that can be seen are drawn, letter by letter as among all; names of nothing are passed over."""
    whole = client.get("/match/part?effort=141&quick=wide").json()["parts"]
    seen = client.get(
        "/match/part?effort=141&quick=wide&show=part-chain&show=part-marks&show=part-foot&show=x"
    ).json()["parts"]
    assert seen == {box: whole[box] for box in ("part-chain", "part-marks")}
    full = client.get("/match/part?effort=141&show=part-chain").json()["parts"]
    assert set(full) == set(FRAGMENTS)


def test_the_same_question_is_worked_out_once(client: TestClient, folder: Path) -> None:
    """Going back costs nothing; a change of the file asks again."""
    fake_tasks.calls.clear()
    for _ in range(3):
        client.get("/match/part?effort=155")
    assert len(fake_tasks.calls) == 1
    text = (folder / "rig.toml").read_text(encoding="utf-8")
    (folder / "rig.toml").write_text(text.replace("36 Ah", "35 Ah"), encoding="utf-8")
    client.get("/match/part?effort=155")
    assert len(fake_tasks.calls) == 2


def test_a_bad_fragment_request_gets_the_json_body(client: TestClient) -> None:
    """The slider's script can read why."""
    reply = client.get("/match/part?effort=none", headers={"accept": "text/html"})
    assert reply.status_code == 400
    assert reply.json()["problems"][0]["where"] == "effort"


def test_the_room_can_be_pressed_in_every_cell(client: TestClient) -> None:
    """Each cell of both drawings carries its gear and its turns a minute; the chosen one is marked once in each."""
    html = client.get("/match/part").json()["parts"]["part-room"]
    assert html.count("data-gear=") == 2 * 3 * 12
    assert html.count("data-chosen") == 2
    assert 'data-gear="42/24" data-cadence="120"' in html


# ---- files to take


def test_gears_go_out_as_a_table(client: TestClient) -> None:
    """One row a gear, units in the head, numbers that read back."""
    rows = list(csv.DictReader(io.StringIO(client.get("/files/gears.csv").text)))
    assert [row["gear"] for row in rows] == list(fake_tasks.GEARS)
    assert float(rows[0]["delivered_W"]) > 0
    assert rows[0]["passes_rad_s"] == ""  # never: nothing is written, not a word that is no number


def test_leg_picture_goes_out_as_a_table(client: TestClient) -> None:
    """One row a cadence."""
    rows = list(csv.reader(io.StringIO(client.get("/files/legs.csv").text)))
    assert rows[0][:2] == ["cadence_rad_s", "rider_Nm"]
    assert len(rows) == 57


def test_pictures_go_out_as_files_of_their_own(client: TestClient) -> None:
    """Each drawing carries its own colours and may run nothing."""
    for stem in ("chain", "legs", "room", "wiring"):
        reply = client.get(f"/files/{stem}.svg")
        assert reply.status_code == 200
        assert reply.text.startswith("<svg")
        assert "<style>" in reply.text
        assert "sandbox" in reply.headers["content-security-policy"]
        assert reply.headers["content-disposition"] == f'attachment; filename="{stem}.svg"'


def test_the_rig_and_the_answer_go_out_whole(client: TestClient, folder: Path) -> None:
    """rig.toml byte for byte, and the published JSON of the match."""
    assert client.get("/files/rig.toml").content == (folder / "rig.toml").read_bytes()
    assert json.loads(client.get("/files/match.json").text)["section"] == "match"
