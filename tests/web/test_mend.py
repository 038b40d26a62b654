"""The page of the fault-finder over stand-in causes: its form, its address, its pieces, and the same as JSON."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

import pytest
from fastapi.testclient import TestClient
from tests.web import fake_tasks
from tests.web.conftest import HOME, RIG

from sparewatt.web.app import create_app
from sparewatt.web.mend_form import MOST_ROWS, Form, Row, pairs_of, read

GEARS, LOADS = ("42/18", "42/21"), ("lamp",)
RIDE = {"ride": "cadence 62, 11.4 V, 3.1 A, heavy"}


def last() -> dict[str, object]:
    """What the task was asked last."""
    return next(given for name, given in reversed(fake_tasks.calls) if name == "mend")


def test_the_empty_page_asks_for_readings_and_says_what_would_help(client: TestClient) -> None:
    """Two rows of boxes, every box labelled, the improvements, no verdict."""
    page = client.get("/mend")
    assert page.status_code == 200
    text = page.text
    assert "Moment 1" in text
    assert "Moment 2" in text
    assert "Moment 3" not in text
    assert "What would help most" in text
    assert "oil the bearings" in text.lower()
    assert 'class="verdict' not in text
    for name in re.findall(r'<(?:input|select) id="([^"]+)"', text):
        assert f'for="{name}"' in text


def test_boxes_are_put_together_as_moments(client: TestClient) -> None:
    """What stands in a row is one moment; rows from when all was well are told apart."""
    query = {
        "r1_cadence": "62", "r1_volts": "11.4", "r1_feel": "hard", "r1_gear": "42/21", "r1_more": "case 45 degC",
        "r2_cadence": "60", "r2_volts": "15", "r2_when": "well", "r3_gear": "42/18",
    }  # fmt: skip
    page = client.get("/mend", params=query)
    assert page.status_code == 200
    assert last()["moments"] == ('cadence 62, volts 11.4, feel "hard", gear "42/21", case 45 degC',)
    assert last()["well"] == ("cadence 60, volts 15",)
    assert "The rim belt slips" in page.text
    assert "about 6 in 10" in page.text


def test_the_edit_that_puts_a_number_right_is_offered(client: TestClient) -> None:
    """In words, with what stands there now, and a link that tries it without writing."""
    page = client.get("/mend", params=RIDE).text
    assert "rim belt: driven diameter: 57 mm" in page
    assert "instead of 40 mm" in page
    assert "/match?try=stage.1.driven_diameter+%3D+57+mm" in page


def test_a_warning_comes_first(client: TestClient) -> None:
    """Before the answer, with its reason; the large sentence does not say it again."""
    page = client.get("/mend", params={"ride": "62 rpm, -11 V"}).text
    assert '<p class="verdict no">stop</p>' in page
    assert page.index("Disconnect the battery") < page.index('<h1 class="answer">Most likely')


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ({"r1_cadence": "sixty", "r1_volts": "11"}, "cadence wants a number"),
        ({"ride": "cadance 60 rpm"}, "did you mean &#34;cadence&#34;?"),
        ({"ride": "62 rpm, 12 V", "load": "ghost"}, "there is no load by this name"),
        ({"r1_more": "x" * 201}, "more than 200 letters"),
        ({f"r{n}_volts": "12" for n in range(1, MOST_ROWS + 1)} | {"ride": "11 V"}, "more than are read"),
    ],
)
def test_what_cannot_be_read_stays_and_is_named(client: TestClient, query: dict[str, str], says: str) -> None:
    """400, said beside the form, and what was typed still stands in its box."""
    page = client.get("/mend", params=query)
    assert page.status_code == 400
    assert says in page.text
    assert "sixty" not in query.values() or 'value="sixty"' in page.text


def test_pieces_come_without_a_page(client: TestClient) -> None:
    """What a change replaces, with the address of the JSON; what cannot be read yet is 200 and leaves the answer alone."""
    reply = client.get("/mend/part", params=RIDE).json()
    assert reply["ok"] is True
    assert set(reply["parts"]) == {
        "part-wrong", "part-answer", "part-causes", "part-picture", "part-signs", "part-foot",
    }  # fmt: skip
    assert reply["json"].startswith("/api/mend?ride=")
    bad = client.get("/mend/part", params={"r1_volts": "x"})
    assert bad.status_code == 200
    assert bad.json()["ok"] is False
    assert set(bad.json()["parts"]) == {"part-wrong"}


def test_one_more_moment_opens_one_more_row(client: TestClient) -> None:
    """Also without JavaScript; no more than are read."""
    assert "Moment 4" in client.get("/mend", params={"rows": "4"}).text
    assert f"Moment {MOST_ROWS + 1}" not in client.get("/mend", params={"rows": "99"}).text
    assert "Moment 2" in client.get("/mend", params={"rows": "-9"}).text


def test_the_same_as_json(client: TestClient) -> None:
    """The published object, by the names of the command line."""
    body = client.get(
        "/api/mend", params={"ride": ["62 rpm, 11 V", "55 rpm, 9 V"], "well": "60 rpm, 15 V"}
    ).json()
    assert (body["ok"], body["section"], body["verdict"]) == (True, "mend", "look again")
    assert last()["moments"] == ("62 rpm, 11 V", "55 rpm, 9 V")
    refused = client.get("/api/mend", params={"ride": "cadance 60 rpm"})
    assert refused.status_code == 400
    assert refused.json()["problems"][0]["try"]


def test_the_link_to_the_json_asks_the_same(client: TestClient) -> None:
    """The address on the page gives the moments that stand in the boxes."""
    page = client.get("/mend", params=RIDE | {"well": "60 rpm, 15 V", "load": "lamp"}).text
    found = re.search(r'id="as-json" href="([^"]+)"', page)
    assert found
    there = dict(parse_qsl(urlsplit(found[1].replace("&amp;", "&")).query))
    assert set(there) == {"ride", "well", "load"}
    assert client.get(found[1].replace("&amp;", "&")).status_code == 200


@pytest.mark.parametrize(
    "text",
    [
        "cadence 62, 11.4 V, 3.1 A, heavy",
        "62 rpm, 11.4 V, 13.1 V out, 2 A out, after 20 min, gear 42/18",
        "by drill, 900 rpm at the machine, 12 V, nothing joined",
        "62 rpm, 11.4 +/- 0.2 V, meter yellow",
        "case 45 degC, effort 90 W, running lamp, 60 rpm",
    ],
)
def test_a_moment_in_words_goes_into_the_boxes_and_back(text: str) -> None:
    """Put into boxes and out again it is the same moment."""
    from sparewatt.language.moment import moment_text
    from sparewatt.language.moment_reader import moment_of

    form = read([("ride", text)], GEARS, LOADS)
    assert not form.problems
    again = form.texts(well=False)[0]
    assert moment_text(moment_of(again, gears=GEARS, loads=LOADS)) == moment_text(
        moment_of(text, gears=GEARS, loads=LOADS)
    )
    assert pairs_of(form) == [("ride", again)]


def test_a_row_with_a_gear_alone_is_empty() -> None:
    """A gear that was chosen and nothing read is no moment."""
    assert Row({"gear": "42/18", "when": "well"}).text == ""
    assert not Form((Row({"gear": "42/18"}),)).asks


def test_readings_kept_on_the_bench_are_offered_and_used(tmp_path: Path) -> None:
    """With rides in readings.csv the page offers them; ticked, they are moments (over the real tasks)."""
    from sparewatt import tasks

    place = tmp_path / "stilts"
    place.mkdir()
    (place / "rig.toml").write_text(RIG, encoding="utf-8")
    tasks.bench_add(
        place, "riding", {"cadence": "62 rpm", "volts": "13.4 V", "amps": "3 A"}, at="2026-03-01T10:00"
    )
    app = create_app(place, home=tmp_path / "home")
    with TestClient(app, base_url=HOME, client=("127.0.0.1", 50000)) as one:
        assert "Use the 1 kept on the bench too" in one.get("/mend").text
        page = one.get("/mend", params={"readings": "on"})
        assert page.status_code == 200
        assert "What it can be" in page.text
        body = one.get("/api/mend", params={"readings": "true"}).json()
        assert len(body["results"]["moments"]) == 1
