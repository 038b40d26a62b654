"""The page of a scene over a stand-in that reads the words in earnest: its address, pieces, files, and keeping a scene."""

from __future__ import annotations

import csv
import io
import json
import re
import tomllib
from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

import pytest
from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.web import fake_scene, fake_tasks
from tests.web.conftest import RIG
from tests.web.test_pages import FORBIDDEN, Reader

from sparewatt.files import demo_text, read_text
from sparewatt.language.script import examples
from sparewatt.rig.fill import Filled, fill
from sparewatt.web import scene_routes, scene_words
from sparewatt.web.desk import KEPT_SCENES
from sparewatt.web.question import Question
from sparewatt.web.scene_page import FRAGMENTS, QUICK

WORDS = "at 5 s pull the plug; at 12 s shift up; at 20 s plug it back in"
SCENE = """
# What the neighbours did last week.
[[scene]]
name = "the plug is pulled"
load = "charge"
gear = "42/21"
effort = "112 W"

[[scene.step]]
at = "5 s"
do = "pull the plug"
"""


def in_words(reply_text: str) -> str:
    """What stands in the box of words."""
    found = re.search(r'<textarea id="c-words"[^>]*>(.*?)</textarea>', reply_text, re.DOTALL)
    assert found is not None
    return found[1]


def query(address: str) -> dict[str, str]:
    """The question in an address."""
    return dict(parse_qsl(urlsplit(address).query))


@pytest.fixture
def with_scene(folder: Path, client: TestClient) -> TestClient:
    """The app over a rig file that has a scene of its own."""
    (folder / "rig.toml").write_text(RIG + SCENE, encoding="utf-8")
    return client


@pytest.mark.parametrize(
    "address", ["/scene", f"/scene?words={WORDS}", "/scene?words=from+rest", "/scene?words=kaboom"]
)
def test_the_page_keeps_to_the_policy(client: TestClient, address: str) -> None:
    """One h1, no inline style or script that runs, unique ids, a label for every field, no word that promises or scolds."""
    reply = client.get(address)
    page = Reader(reply.text)
    assert reply.text.count("<h1") == 1
    assert page.styled == []
    assert all(
        s.get("src", "").startswith("/static/") or s.get("type") == "application/json" for s in page.scripts
    )
    assert len(page.ids) == len(set(page.ids))
    for field in page.fields:
        assert field.get("id") in page.labels or field.get("aria-label"), field
    said = " ".join(page.words)
    assert not FORBIDDEN.search(said), FORBIDDEN.search(said)
    for link in page.links:
        assert link.startswith(("/", "#")), link
        unread = "words=kaboom" in link  # the same words again, as a file or in other units
        assert unread or link.startswith("#") or client.get(link).status_code == 200, link


def test_what_happens_comes_first_and_detail_last(client: TestClient) -> None:
    """The sentence, what binds, the nearest yes, the picture, the controls, then detail, caveats and sources."""
    page = client.get("/scene", params={"words": WORDS}).text
    marks = [
        "It holds at", "What binds.", "Nearest yes", "data-x0", "Change it and see", ">What happens<", "How sure it is",
        "The most of everything", "Where the work of your legs goes", "On a meter.", "Keep in mind",
        "Where the formulas come from",
    ]  # fmt: skip
    places = [page.index(mark) for mark in marks]
    assert places == sorted(places)
    assert page.count("data-x0") == 2  # wide and narrow


def test_happenings_have_the_numbers_of_the_picture(client: TestClient) -> None:
    """Steps in boxes, what the rig does in rings, one list in the order of time; what is too much is marked in words."""
    page = client.get("/scene", params={"words": WORDS}).text
    rows = re.findall(
        r'<span class="(flag|mark-ring)">(\d+)</span><span class="when" data-at="([\d.]+)"', page
    )
    assert [int(number) for _, number, _ in rows] == list(range(1, len(rows) + 1))
    times = [float(at) for _, _, at in rows]
    assert times == sorted(times)
    assert {kind for kind, _, _ in rows} == {"flag", "mark-ring"}
    assert '<span class="check stop">too much</span>' in page  # the toy's clamp sees more than its 18 V


def test_without_a_question_the_first_scene_of_the_file_is_played(with_scene: TestClient) -> None:
    """Its words, boxes and name stand on the page; another load brings the usual scene of that load."""
    page = with_scene.get("/scene").text
    assert in_words(page) == "at 5 s pull the plug"
    assert re.search(
        r'<a class="press" href="/scene\?name=[^"]+" aria-current="true">the plug is pulled', page
    )
    assert 'name="name" id="c-name" value="the plug is pulled"' in page
    assert "<option selected>42/21</option>" in page
    assert 'data-exact="112 W"' in page
    assert "switch the lamp on" in in_words(with_scene.get("/scene?load=lamp").text)


def test_a_scene_of_the_file_is_left_as_soon_as_it_is_told_otherwise(with_scene: TestClient) -> None:
    """The same words beside its name are still that scene; other words are not, and the boxes go with them."""
    same = with_scene.get(
        "/scene", params={"name": "the plug is pulled", "words": " at 5 s  pull the plug"}
    ).text
    assert 'aria-current="true">the plug is pulled' in same
    other = with_scene.get(
        "/scene", params={"name": "the plug is pulled", "words": "at 6 s pull the plug"}
    ).text
    assert 'aria-current="true">the plug is pulled' not in other
    assert in_words(other) == "at 6 s pull the plug"


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        ({"edit": "1 +1"}, "at 5 s pull the plug; at 13 s shift up; at 20 s plug it back in"),
        ({"edit": "0 -1"}, "at 4 s pull the plug; at 12 s shift up; at 20 s plug it back in"),
        ({"edit": "0 -99"}, "at 0 s pull the plug; at 12 s shift up; at 20 s plug it back in"),
        ({"edit": "1 x"}, "at 5 s pull the plug; at 20 s plug it back in"),
        ({"edit": "add", "when": "25", "more": "sprint"}, f"{WORDS}; at 25 s sprint"),
        ({"edit": "add", "when": "0.4 min", "more": "sprint"}, f"{WORDS}; at 24 s sprint"),
        ({"edit": "add", "when": "", "more": "sprint"}, f"{WORDS}; at 25 s sprint"),
    ],
)
def test_a_step_is_moved_taken_out_or_added_by_a_plain_button(
    client: TestClient, edit: dict[str, str], words: str
) -> None:
    """A press sends the browser on to the new words, so that going back or reloading does not press again."""
    reply = client.get(
        "/scene", params={"words": WORDS, "gear": "42/21", "try": "battery.capacity = 44 Ah", **edit}
    )
    assert reply.status_code == 303
    there = query(reply.headers["location"])
    assert there == {"words": words, "gear": "42/21", "try": "battery.capacity = 44 Ah"}
    assert client.get(reply.headers["location"]).status_code == 200


def test_what_the_words_say_of_the_start_moves_to_the_boxes(client: TestClient) -> None:
    """When a step is moved, nothing that the words said is lost: the boxes say it from then on."""
    words = "Bao rides from rest, in gear 42/24, with the lamp on, for 40 s; at 5 s switch it off"
    page = client.get("/scene", params={"words": words}).text
    assert "<option selected>Bao</option>" in page
    assert '<option value="rest" selected>' in page
    assert "The words say" in page
    reply = client.get("/scene", params={"words": words, "edit": "0 +1"})
    assert query(reply.headers["location"]) == {
        "words": "at 6 s switch it off", "rider": "Bao", "load": "lamp", "gear": "42/24", "start": "rest",
        "duration": "40 s",
    }  # fmt: skip


def test_words_that_cannot_be_read_stay_and_say_where(client: TestClient) -> None:
    """The box keeps every letter; beside it stands what is wrong, where, and what to try; the boxes keep what they had."""
    words = "at 5 s pull the plug; at 8 s swich the lamp on;  at 12 kaboom"
    reply = client.get("/scene", params={"words": words, "load": "lamp", "effort": "140 W"})
    assert reply.status_code == 400
    assert in_words(reply.text) == words
    assert "swich the lamp on" in reply.text
    assert "letters 30 to 46" in reply.text
    assert words[29:46] == "swich the lamp on"
    assert "<mark>swich the lamp on</mark>" in reply.text
    assert "switch the lamp on" in reply.text
    assert 'data-exact="140 W"' in reply.text
    assert '<option value="lamp" selected>' in reply.text
    assert reply.text.count("<h1") == 1


def test_a_text_that_is_too_long_is_kept(client: TestClient) -> None:
    """More letters than a scene takes: said beside the box, and the box still holds them."""
    words = "at 5 s pull the plug; " * 200
    reply = client.get("/scene", params={"words": words})
    assert reply.status_code == 400
    assert in_words(reply.text) == words
    assert "4000" in reply.text


def test_a_wrong_box_and_wrong_words_are_said_together(client: TestClient) -> None:
    """Everything at once, each beside the words."""
    page = client.get("/scene", params={"words": "at 5 s kaboom", "effort": "a lot"}).text
    assert "a lot" in page
    assert "kaboom" in page
    assert page.count('<p class="problem">') == 2


def test_pieces_come_quick_from_one_run_and_whole_from_many(client: TestClient) -> None:
    """`quick` redraws one picture from one run; the whole answer has the bands, both pictures and every piece."""
    quick = client.get("/scene/part", params={"words": WORDS, "quick": "wide"}).json()
    whole = client.get("/scene/part", params={"words": WORDS}).json()
    assert set(quick["parts"]) == set(QUICK)
    assert set(whole["parts"]) == set(FRAGMENTS)
    assert quick["parts"]["part-picture"].count("<svg") == 1
    assert whole["parts"]["part-picture"].count("<svg") == 2
    assert "df-band" not in quick["parts"]["part-picture"]
    assert "df-band" in whole["parts"]["part-picture"]
    assert "200 runs" in whole["parts"]["part-chances"]
    assert whole["boxes"]["load"] == {"now": "charge", "own": ""}
    assert "pull the plug" in whole["examples"]
    assert query(whole["links"]["/scene.csv"]) == {"words": WORDS}


def test_half_typed_words_are_no_failure(client: TestClient) -> None:
    """While somebody types, the answer says what cannot be read yet, as an ordinary answer, and leaves the picture alone."""
    reply = client.get("/scene/part", params={"words": "at 5 s pull the plu", "quick": "wide"})
    assert reply.status_code == 200
    body = reply.json()
    assert body["ok"] is False
    assert set(body["parts"]) == {"part-wrong"}
    assert body["problems"][0]["where"] == "words, letters 8 to 19"


def test_the_play_head_reads_numbers_people_read(client: TestClient) -> None:
    """Turns a minute, volts, amps, watts and the reserve at even times, and what happens when."""
    page = client.get("/scene", params={"words": WORDS}).text
    found = re.search(r'<script type="application/json" id="scene-data">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    reel = json.loads(found[1])
    hands = {hand["key"]: hand for hand in reel["hands"]}
    assert {"cadence", "bus_volts", "machine_amps", "rider_power", "reserve"} <= set(hands)
    assert len(hands["cadence"]["values"]) == round(reel["duration"] / reel["every"]) + 1
    assert 50 <= hands["cadence"]["values"][0] <= 120  # turns a minute, not rad/s
    assert hands["reserve"]["values"][0] == pytest.approx(18.0)  # kJ
    assert reel["happens"][0]["says"] == "Pull the plug."


def test_no_words_at_all_just_ride(client: TestClient) -> None:
    """An emptied box is a scene too: nothing happens in it."""
    page = client.get("/scene?words=").text
    assert "No step yet" in page
    assert "It holds at" in page


def test_another_design_is_drawn_dashed_and_told(client: TestClient) -> None:
    """Its change, what differs in words, a way to ride on with it and one to take it away."""
    plain = client.get(
        "/scene", params={"words": WORDS, "other_key": "stage.1.driven_diameter", "other": "57 mm"}
    )
    page = plain.text
    assert "drawn dashed" in page
    assert "instead of 40 mm" in page
    assert "with the dashed one" in page
    assert "stroke-dasharray" in page or "9 5" in page
    links = [query(link) for link in Reader(page).links if link.startswith("/scene?")]
    assert {"words": WORDS, "try": "stage.1.driven_diameter = 57 mm"} in links
    assert {"words": WORDS} in links


def test_a_design_that_cannot_be_is_said_and_the_scene_stays(client: TestClient) -> None:
    """A wrong key of the second design does not take the first one away."""
    reply = client.get("/scene", params={"words": WORDS, "beside": "stage.1.colour = red"})
    assert reply.status_code == 400
    assert "It holds at" in reply.text
    assert "colour" in reply.text


def test_a_nearest_yes_can_be_tried_or_set_beside(client: TestClient) -> None:
    """Both lead to this very scene."""
    links = [query(link) for link in Reader(client.get("/scene", params={"words": WORDS}).text).links]
    edit = "stage.1.driven_diameter = 57 mm"
    assert {"words": WORDS, "try": edit} in links
    assert {"words": WORDS, "beside": edit} in links


def test_what_is_shown_can_be_taken_away(client: TestClient) -> None:
    """CSV with SI units in its heads, SVG with its own colours and nothing else allowed, JSON with the answer."""
    asked = {"words": WORDS, "effort": "140 W"}
    table = client.get("/scene.csv", params=asked)
    assert table.headers["content-disposition"] == 'attachment; filename="scene.csv"'
    rows = list(csv.reader(io.StringIO(table.text)))
    assert rows[0][:2] == ["time_s", "cadence_rad_s"]
    assert len(rows) > 100
    drawn = client.get("/scene.svg", params=asked)
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert "sandbox" in drawn.headers["content-security-policy"]
    assert drawn.text.startswith("<svg")
    told = client.get("/scene.json", params=asked).json()
    assert "140 W" in told["answer"]
    assert client.get("/scene.exe", params=asked).status_code == 404
    wrong = client.get("/scene.json", params={"words": "kaboom"})
    assert wrong.status_code == 400
    assert wrong.json()["problems"][0]["where"].startswith("words")


def test_a_scene_is_kept_in_the_file_and_can_be_taken_back(with_scene: TestClient, folder: Path) -> None:
    """Comments stay, the new scene plays the same, the page stays where it was, and undo brings every byte back."""
    before = (folder / "rig.toml").read_text(encoding="utf-8")
    words = "from rest; with the lamp on; at 4.5 s shift up; at 9 s pull the plug"
    form = {"query": f"words={words}&effort=90+W", "name": "up the hill"}
    reply = with_scene.post("/scene/keep", data=form)
    assert reply.status_code == 303
    assert query(reply.headers["location"])["words"] == words
    after = (folder / "rig.toml").read_text(encoding="utf-8")
    assert after.startswith(before.rstrip("\n"))
    kept = tomllib.loads(after)["scene"][1]
    assert kept == {
        "name": "up the hill", "load": "lamp", "start": "rest", "effort": "90 W",
        "step": [{"at": "4.5 s", "do": "shift up"}, {"at": "9 s", "do": "pull the plug"}],
    } | ({"switched_on": True} if "switched_on" in kept else {})  # fmt: skip
    page = with_scene.get("/scene?name=up+the+hill").text
    assert "shift up" in in_words(page)
    assert '<option value="rest" selected>' in page
    assert "The scene &#34;up the hill&#34; is in your rig file now." in page
    with_scene.post("/rig/undo", data={"back": reply.headers["location"]})
    assert (folder / "rig.toml").read_text(encoding="utf-8") == before


def test_a_scene_of_the_same_name_is_replaced(with_scene: TestClient, folder: Path) -> None:
    """Keeping under a name that is there puts the new one in its place."""
    form = {"query": "words=at+9+s+pull+the+plug", "name": "The plug is pulled"}
    assert with_scene.post("/scene/keep", data=form).status_code == 303
    scenes = tomllib.loads((folder / "rig.toml").read_text(encoding="utf-8"))["scene"]
    assert [scene["step"] for scene in scenes] == [[{"at": "9 s", "do": "pull the plug"}]]


@pytest.mark.parametrize(
    "form", [{"query": "words=kaboom", "name": "x"}, {"query": f"words={WORDS}", "name": " "}]
)
def test_what_cannot_be_kept_is_said_and_not_lost(
    client: TestClient, folder: Path, form: dict[str, str]
) -> None:
    """Wrong words or no name: the page again with what to put right and what was typed; the file is as it was."""
    reply = client.post("/scene/keep", data=form)
    assert reply.status_code == 400
    assert in_words(reply.text) == dict(parse_qsl(form["query"]))["words"]
    assert '<p class="problem">' in reply.text
    assert (folder / "rig.toml").read_text(encoding="utf-8") == RIG


def test_long_words_do_not_stand_in_the_way_of_undo(with_scene: TestClient, folder: Path) -> None:
    """The address to go back to may hold every letter a scene takes."""
    words = "; ".join(f"at {k} s stop pedalling; at {k}.5 s pedal again" for k in range(1, 29))
    assert len(words) > 1200
    reply = with_scene.post("/scene/keep", data={"query": f"words={words}", "name": "long"})
    page = with_scene.get(reply.headers["location"])
    found = re.search(r'name="back" value="([^"]*)"', page.text)
    assert found is not None
    back = found[1].replace("&amp;", "&")
    undone = with_scene.post("/rig/undo", data={"back": back})
    assert undone.headers["location"] == back


@pytest.mark.parametrize("path", ["/match", "/loads"])
def test_every_steady_answer_leads_to_its_seconds(client: TestClient, path: str) -> None:
    """The link carries words that the same rig reads and plays, and the changes that are being tried."""
    page = client.get(path, params={"try": "battery.capacity = 44 Ah"}).text
    found = re.findall(r'href="(/scene\?[^"]+)">Show me its seconds', page)
    assert found
    for link in found:
        address = link.replace("&amp;", "&")
        assert query(address)["try"] == "battery.capacity = 44 Ah"
        assert client.get(address).status_code == 200


def test_the_first_screen_knows_nothing_of_scenes(client: TestClient) -> None:
    """One sentence box and one button, as before."""
    assert "/scene" not in client.get("/").text


def test_other_pages_do_not_carry_the_words_along(client: TestClient) -> None:
    """The words of a scene stay in the address of the scene."""
    q = Question.of_a_scene(
        [("words", WORDS), ("effort", "100"), ("beside", "clamp.voltage = 40 V"), ("duration", "40")]
    )
    assert query(q.link("/match")) == {"effort": "100 W", "duration": "40 s"}
    assert query(q.link("/scene")) == {
        "words": WORDS, "effort": "100 W", "duration": "40 s", "beside": "clamp.voltage = 40 V",
    }  # fmt: skip


def test_the_json_twin_asks_the_same(client: TestClient) -> None:
    """Query names of the command line; a bad word comes back as the one problem body."""
    body = client.get("/api/scene", params={"words": WORDS, "effort": "140 W", "runs": 0}).json()
    assert body["section"] == "scene"
    assert "140 W" in body["answer"]
    assert body["results"] == {"runs_count": 0}
    wrong = client.get("/api/scene", params={"words": "kaboom"})
    assert wrong.status_code == 400
    assert wrong.json()["problems"][0]["where"].startswith("words")
    schema = client.get("/openapi.json").json()["paths"]["/api/scene"]["get"]
    assert {"name", "words", "holds", "start", "runs", "try", "beside"} <= {
        p["name"] for p in schema["parameters"]
    }


@pytest.fixture(scope="module")
def skerry() -> Filled:
    """A demo rig with a battery, boards, a clamp and several gears."""
    return fill(read_text(demo_text("skerry")).rig)


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_any_scene_keeps_its_meaning_when_told_by_its_steps(skerry: Filled, data: st.DataObject) -> None:
    """The words the rows make, with the boxes, play the very same script; a step moved there and back changes nothing."""
    load = data.draw(st.sampled_from(["charge", "chart lamp", "watch radio"]))
    steps = data.draw(
        st.lists(
            st.tuples(st.integers(0, 200), st.sampled_from(examples(skerry, load))), min_size=1, max_size=6
        )
    )
    start = data.draw(st.sampled_from(["", "from rest, ", "Tove rides along, ", "in gear 42/16, "]))
    hooked = (
        "charging the battery"
        if load == "charge"
        else f"with the {load} {data.draw(st.sampled_from(['on', 'off']))}"
    )
    words = "; ".join([f"{start}{hooked}", *(f"at {k / 10:g} s {step}" for k, step in steps)])
    q = Question.of_a_scene([("words", words)])
    try:
        told = scene_words.read(skerry, q)
    except scene_words.BadRequest:
        return  # a gear too high, a battery that is not there: the reader says so
    again = scene_words.read(skerry, scene_words.with_boxes(told, q, told.plain))
    assert again.script.steps == told.script.steps or [
        (a.at, a.kind, a.target, a.value) for a in again.script.steps
    ] == [(a.at, a.kind, a.target, a.value) for a in told.script.steps]
    assert (again.script.ask, again.script.start, again.script.holds, again.script.switched_on) == (
        told.script.ask,
        told.script.start,
        told.script.holds,
        told.script.switched_on,
    )
    assert again.plain == told.plain
    if len(told.rows) == 1 and told.rows[0].at <= told.script.duration - 0.1:
        there = scene_words.with_boxes(told, q, scene_words.edited(told, "0 +0.1", "", ""))
        assert scene_words.edited(scene_words.read(skerry, there), "0 -0.1", "", "") == told.plain


def test_bands_that_are_not_there_yet_are_asked_for_again(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the quick way of playing is being made ready, a scene comes without bands, and that answer is not kept."""
    asked: list[int] = []

    def once(place: object, *, runs: int, **given: object) -> object:
        asked.append(runs)
        return fake_scene.scene(place, runs=0 if len(asked) < 4 else runs, **given)  # type: ignore[arg-type]

    monkeypatch.setattr(fake_tasks, "scene", once)
    assert "played once so far" in client.get("/scene", params={"words": WORDS}).text
    assert client.get("/scene/part", params={"words": WORDS}).json()["data"]["runs"] == 0
    assert client.get("/scene/part", params={"words": WORDS}).json()["data"]["runs"] == 200
    assert client.get("/scene/part", params={"words": WORDS}).json()["data"]["runs"] == 200
    assert asked == [0, 200, 200, 200]


def test_a_page_does_not_wait_for_many_runs_of_a_slow_scene(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where one run takes long, the page comes with one; its script asks for the rest, and without one a link does."""
    monkeypatch.setattr(scene_routes, "SOON", -1.0)
    page = client.get("/scene", params={"words": WORDS}).text
    assert '"runs": 0' in page
    found = re.search(r'<noscript>.*?href="([^"]+)"', page)
    assert found is not None
    assert '"runs": 200' in client.get(found[1].replace("&amp;", "&")).text


def test_few_played_scenes_are_kept(client: TestClient) -> None:
    """A scene holds every number of every moment, so only the last ones stay in memory; other answers are not pushed out."""
    desk = client.app.state.site.desk  # type: ignore[attr-defined]
    match = desk.ask("match")
    for k in range(20):
        client.get("/scene/part", params={"words": f"at {k} s pull the plug", "quick": "wide"})
    kept = [key for key in desk._answers if key[0] == "scene"]
    assert len(kept) == KEPT_SCENES
    assert desk.ask("match") is match
