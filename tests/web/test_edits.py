"""Everything that writes: boxes, raw text, keeping, taking back, new rigs, demos; and never over somebody else's edit."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from tests.web.conftest import RIG

from sparewatt.web.edits import local


def seen(client: TestClient) -> str:
    """The mark of the file as the page shows it."""
    return str(client.get("/api/rig").json()["seen"])


def text(folder: Path) -> str:
    """The file on disk."""
    return (folder / "rig.toml").read_text(encoding="utf-8")


def test_a_box_is_written_and_the_rest_of_the_file_is_left_alone(client: TestClient, folder: Path) -> None:
    """One value changes; comments, order and every other byte stay."""
    form = {
        "seen": seen(client),
        "back": "/rig",
        "stage.1.driven_diameter": "57 mm",
        "stage.1.name": "rim belt",
    }
    assert client.post("/rig/fields", data=form).status_code == 303
    assert text(folder) == RIG.replace('"40 mm"', '"57 mm"')
    assert "Undo" in client.get("/rig").text


def test_a_number_with_a_note_keeps_its_note(client: TestClient, folder: Path) -> None:
    """Changing the value of a number that has a table of its own leaves its origin and note."""
    client.post("/rig/fields", data={"seen": seen(client), "machine.resistance": "0.3 ohm"})
    assert 'value = "0.3 ohm"' in text(folder)
    assert "like its neighbours on the heap" in text(folder)


def test_an_emptied_box_takes_the_key_out(client: TestClient, folder: Path) -> None:
    """Empty means: not in the file; a typical value stands in again."""
    client.post("/rig/fields", data={"seen": seen(client), "battery.charge": ""})
    assert text(folder) == RIG.replace('charge = "50 %"\n', "")


def test_boxes_that_were_not_touched_write_nothing(client: TestClient, folder: Path) -> None:
    """Sending the form as it was shown changes no byte and makes no step to take back."""
    page = client.get("/rig").text
    first = page[page.index('id="p-stage.1"') : page.index('id="p-machine"')]
    boxes = dict(
        re.findall(r'<input id="f-([^"]+)" name="\1" value="([^"]*)"', first.replace('name="f-', 'name="'))
    )
    named = dict(re.findall(r'name="([\w.]+)" value="([^"]*)"', first)) | boxes
    assert client.post("/rig/fields", data=named).status_code == 303
    assert text(folder) == RIG
    assert "Undo" not in client.get("/rig").text


def test_a_box_that_does_not_fit_is_said_beside_the_box(client: TestClient, folder: Path) -> None:
    """400, the typed text still in its box, what is accepted beside it, nothing written."""
    form = {"seen": seen(client), "machine.emf_constant": "seven apples", "battery.capacity": "-3 Ah"}
    reply = client.post("/rig/fields", data=form)
    assert reply.status_code == 400
    assert 'value="seven apples"' in reply.text
    assert reply.text.count('class="field bad"') == 2
    assert text(folder) == RIG


def test_raw_text_is_checked_before_it_is_written(client: TestClient, folder: Path) -> None:
    """All that is wrong is said beside its line, with the typed text kept; a good text is written as it is."""
    bad = RIG.replace('"12 V"', '"12 W"').replace('kind = "led"', 'kind = "candle"')
    reply = client.post("/rig/raw", data={"seen": seen(client), "text": bad})
    assert reply.status_code == 400
    for wrong in ("12 W", "candle"):
        line = next(no for no, each in enumerate(bad.splitlines(), 1) if wrong in each)
        assert f'id="line-{line}"' in reply.text
    assert "candle" in reply.text
    assert text(folder) == RIG

    good = RIG.replace('"12 V"', '"24 V"') + "# one more line\n"
    assert (
        client.post("/rig/raw", data={"seen": seen(client), "text": good.replace("\n", "\r\n")}).status_code
        == 303
    )
    assert text(folder) == good


def test_a_broken_file_is_shown_and_can_be_put_right(client: TestClient, folder: Path) -> None:
    """A file that cannot be used opens as text with its problem; the other pages say where to go."""
    (folder / "rig.toml").write_text(RIG.replace('"12 V"', "12 V"), encoding="utf-8")
    page = client.get("/rig")
    assert page.status_code == 200
    assert "to put right" in page.text
    assert 'class="lines"' in page.text
    assert client.get("/api/rig").status_code == 200
    reply = client.post("/rig/raw", data={"seen": seen(client), "text": RIG})
    assert reply.status_code == 303
    assert text(folder) == RIG


def test_a_file_changed_elsewhere_is_never_overwritten(client: TestClient, folder: Path) -> None:
    """409 with both versions and two ways on, from boxes, raw text, kept changes and JSON alike."""
    old = seen(client)
    theirs = RIG.replace('"36 Ah"', '"40 Ah"')
    (folder / "rig.toml").write_text(theirs, encoding="utf-8")
    for path, form in (
        ("/rig/fields", {"battery.charge": "60 %"}),
        ("/rig/raw", {"text": RIG.replace('"40 mm"', '"57 mm"')}),
        ("/rig/keep", {"edit": "stage.1.driven_diameter = 57 mm"}),
    ):
        reply = client.post(path, data={"seen": old, **form})
        assert reply.status_code == 409, path
        assert "On disk now" in reply.text
        assert "40 Ah" in reply.text
        assert text(folder) == theirs
    reply = client.post("/api/edit", json={"seen": old, "edits": {"battery.charge": "60 %"}})
    assert reply.status_code == 409
    assert reply.json()["ok"] is False
    assert text(folder) == theirs
    page = client.post("/rig/keep", data={"seen": old, "edit": "stage.1.driven_diameter = 57 mm"}).text
    form = dict(re.findall(r'<input type="hidden" name="(seen|edit|back)" value="([^"]*)"', page))
    assert client.post("/rig/keep", data=form).status_code == 303
    assert text(folder) == theirs.replace('"40 mm"', '"57 mm"')


def test_boxes_left_over_from_elsewhere_come_back_as_a_choice(client: TestClient, folder: Path) -> None:
    """When boxes are refused because the file moved on, the page offers to put just those in."""
    old = seen(client)
    (folder / "rig.toml").write_text(RIG.replace('"36 Ah"', '"40 Ah"'), encoding="utf-8")
    page = client.post("/rig/fields", data={"seen": old, "battery.charge": "60 %"}).text
    assert 'name="edit" value="battery.charge = 60 %"' in page
    assert "Put these into the file on disk" in page


def test_undo_goes_back_step_by_step_and_stops_at_foreign_edits(client: TestClient, folder: Path) -> None:
    """Two steps back are two undos; a file changed elsewhere since cannot be undone over."""
    for value in ("57 mm", "60 mm"):
        client.post("/rig/fields", data={"seen": seen(client), "stage.1.driven_diameter": value})
    assert client.post("/rig/undo", data={"back": "/rig"}).status_code == 303
    assert '"57 mm"' in text(folder)
    assert client.post("/rig/undo", data={"back": "/rig"}).status_code == 303
    assert text(folder) == RIG
    assert client.post("/rig/undo", data={"back": "/rig"}).status_code == 409

    client.post("/rig/fields", data={"seen": seen(client), "stage.1.driven_diameter": "57 mm"})
    theirs = text(folder) + "# mine\n"
    (folder / "rig.toml").write_text(theirs, encoding="utf-8")
    assert "Undo" not in client.get("/rig").text
    assert client.post("/rig/undo", data={"back": "/rig"}).status_code == 409
    assert text(folder) == theirs


def test_a_part_can_be_added_by_a_tried_change(client: TestClient, folder: Path) -> None:
    """A change whose key ends in + adds a part of that kind to the file."""
    lines = 'name = "step-down board"\nkind = "buck"\nset_voltage = "14.4 V"'
    form = {"seen": seen(client), "edit": f"converter+ = {lines}"}
    reply = client.post("/rig/keep", data=form)
    assert reply.status_code == 303
    assert "[[converter]]" in text(folder)
    assert 'name = "step-down board"' in text(folder)


@pytest.mark.parametrize(
    "address",
    [
        "//evil.example",
        "https://evil.example/",
        "/\\evil.example",
        "javascript:alert(1)",
        "/match\nx",
        "/../etc",
        "",
        "/match#x",
        "/%2f/x",
    ],
)
def test_the_way_back_never_leads_out(client: TestClient, address: str) -> None:
    """A form's way back is a page of this app or the plain one."""
    assert local(address, "/rig") == "/rig"
    form = {"seen": seen(client), "back": address, "battery.charge": "60 %"}
    assert client.post("/rig/fields", data=form).headers["location"] == "/rig"


def test_the_way_back_keeps_its_question() -> None:
    """A page of this app with its query is kept as it is."""
    assert local("/match?effort=100+W&try=a+%3D+b") == "/match?effort=100+W&try=a+%3D+b"
    assert local("/") == "/"


def test_json_edits_change_the_file_and_say_how(client: TestClient, folder: Path) -> None:
    """The same write as JSON: the new text, its mark, and words; undo too."""
    reply = client.post(
        "/api/edit", json={"seen": seen(client), "edits": {"stage.rim belt.driven_diameter": "57 mm"}}
    )
    assert reply.status_code == 200
    body = reply.json()
    assert body["ok"] is True
    assert '"57 mm"' in body["text"]
    assert body["seen"] == seen(client)
    assert client.post("/api/undo").json()["text"] == RIG
    assert text(folder) == RIG


@pytest.mark.parametrize(
    "body",
    [{}, [], "x", {"edits": {}, "seen": "x"}, {"edits": {"a": 1}, "seen": "x"}, {"edits": {"a": "b"}},
     {"edits": {"a": "b"}, "seen": "x", "more": 1}, {"edits": {"a" * 500: "b"}, "seen": "x"}],
)  # fmt: skip
def test_json_of_the_wrong_shape_is_named(client: TestClient, body: object) -> None:
    """400 with the one body, for every slip of shape."""
    reply = client.post("/api/edit", json=body)
    assert reply.status_code == 400
    assert reply.json()["ok"] is False
    assert reply.json()["problems"]


def test_uploads_are_refused(client: TestClient, folder: Path) -> None:
    """No route takes a file."""
    reply = client.post("/rig/raw", files={"text": ("rig.toml", b"name = 'x'")}, data={"seen": seen(client)})
    assert reply.status_code == 400
    assert text(folder) == RIG


PAGES = ("/", "/match", "/rig", "/bench", "/loads", "/worth", "/guard", "/mend", "/heap", "/scene", "/files")


def test_a_file_that_vanishes_is_said_to_be_gone_and_is_found_again(client: TestClient, folder: Path) -> None:
    """Every page that needs the rig names the file and what to do, in words; when it is back, the app goes on."""
    (folder / "rig.toml").rename(folder / "elsewhere.toml")
    for page in PAGES:
        reply = client.get(page)
        assert reply.status_code in (200, 404), page
        if reply.status_code == 404:
            assert "there is no rig.toml here" in reply.text
            assert "put it back" in reply.text
    assert client.get("/match").status_code == 404
    assert client.get("/api/rig").json()["problems"][0]["file"].endswith("rig.toml")
    (folder / "elsewhere.toml").rename(folder / "rig.toml")
    assert client.get("/match").status_code == 200


def test_a_file_that_is_not_utf_8_is_left_as_it_is(client: TestClient, folder: Path) -> None:
    """Its line is named, no page shows half of it, and no write touches a byte."""
    mark = seen(client)
    raw = RIG.encode("latin-1", "replace").replace(b"motor", b"m\xf6tor", 1)
    line = raw.count(b"\n", 0, raw.index(b"\xf6")) + 1
    (folder / "rig.toml").write_bytes(raw)
    for page in PAGES[1:]:
        reply = client.get(page)
        assert reply.status_code == 400, page
        assert f"line {line}" in reply.text
        assert "save the file as UTF-8" in reply.text
    for address, form in (
        ("/rig/fields", {"stage.1.driven_diameter": "57 mm"}),
        ("/rig/raw", {"text": RIG}),
        ("/rig/undo", {}),
    ):
        assert client.post(address, data={"seen": mark, **form}).status_code in (400, 409)
    assert (folder / "rig.toml").read_bytes() == raw
