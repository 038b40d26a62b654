"""The pages of the bench over the real tasks: what is written where, what is kept, what is refused, what stays typed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.studies.recordings import RPM, clock, ticking, wav
from tests.web.conftest import HOME, RIG

from sparewatt.studies.bench.procedures import ORDER
from sparewatt.web.app import create_app

K = (
    0.0712 * 2 * 3.14159265 / 60
)  # volts for each turn a minute of the machine that these tests pretend to spin


@pytest.fixture
def bench(folder: Path, tmp_path: Path) -> Iterator[TestClient]:
    """The app over the real tasks, asked from this machine."""
    app = create_app(folder, home=tmp_path / "home")
    with TestClient(app, base_url=HOME, client=("127.0.0.1", 50000), follow_redirects=False) as one:
        yield one


def hidden(page: str, name: str) -> str:
    """What a hidden field of the page holds."""
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found, name
    return unescape(found[1])


def spin(bench: TestClient, rpm: float, volts: float | None = None, box: int = 0) -> str:
    """Type one reading of open volts into the first row, as the page would send it."""
    seen = hidden(bench.get("/bench/spin_open").text, "seen")
    shown = f"{K * rpm if volts is None else volts:.2f}"
    form = {
        "seen": seen,
        f"v.{box}": shown,
        f"u.{box}": "V",
        f"v.{box + 1}": f"{rpm:.0f}",
        f"u.{box + 1}": "rpm",
    }
    reply = bench.post("/bench/spin_open", data=form)
    assert reply.status_code == 200, reply.text
    return reply.text


def csv(folder: Path) -> str:
    """The readings file."""
    return (folder / "readings.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize("key", ORDER)
def test_every_procedure_has_a_page_with_cautions_before_steps(bench: TestClient, key: str) -> None:
    """Open or closed, each answers; where it is open the cautions stand before the steps."""
    reply = bench.get(f"/bench/{key}?health=no")
    assert reply.status_code == 200
    assert reply.text.index("First of all") < reply.text.index('<h2 id="h-steps">')


def test_a_reading_is_written_as_typed_and_the_page_comes_back_with_the_next_box(
    bench: TestClient, folder: Path
) -> None:
    """The line holds what was typed, the row says its line, the next row's first box waits, the picture is there."""
    page = spin(bench, 600)
    assert "open_volts,volts,4.47 V" in csv(folder)
    assert "open_volts,speed,600 rpm" in csv(folder)
    assert "Written on line 3" in page
    assert re.search(r'id="v-4"[^>]*autofocus', page)
    assert "<svg" in page
    assert hidden(page, "w.0") == "3"


def test_what_cannot_be_read_is_told_beside_its_box_and_stays_typed(bench: TestClient, folder: Path) -> None:
    """400; the good row is written, the bad one is not; what was read and what would be accepted stand beside the box."""
    form = {"v.0": "4.47", "u.0": "V", "v.1": "six hundred", "u.1": "rpm", "v.4": "8.9", "v.5": "1190"}
    reply = bench.post("/bench/spin_open", data=form)
    assert reply.status_code == 400
    assert 'value="six hundred"' in reply.text
    assert 'value="4.47"' in reply.text
    beside = reply.text.partition('id="p-v.1"')[2].partition("</p>")[0]
    assert "six hundred" in beside
    assert "rpm" in beside
    assert csv(folder).count("open_volts") == 2  # the whole second row: its volts and its speed


def test_a_row_without_its_partner_waits(bench: TestClient, folder: Path) -> None:
    """Volts alone say nothing of speed: the box that is lacking is named, and nothing is written."""
    reply = bench.post("/bench/spin_open", data={"v.0": "4.47", "u.0": "V"})
    assert reply.status_code == 400
    assert 'id="p-v.1"' in reply.text
    assert 'value="4.47"' in reply.text
    assert not (folder / "readings.csv").exists()


def test_a_number_no_rig_shows_is_asked_again(bench: TestClient, folder: Path) -> None:
    """9 kV from a small machine: the unit or the point is wrong."""
    reply = bench.post("/bench/spin_open", data={"v.0": "9000", "u.0": "V", "v.1": "600", "u.1": "rpm"})
    assert reply.status_code == 400
    assert "look at the unit" in reply.text
    assert not (folder / "readings.csv").exists()


def test_a_reading_taken_over_several_steps_stays_one(bench: TestClient, folder: Path) -> None:
    """Radius, height and weight are typed step by step; they carry one mark, and the fall joins them."""
    page = bench.post("/bench/falling_weight", data={"v.0": "6", "u.0": "mm"}).text
    at = hidden(page, "at.1")
    page = bench.post(
        "/bench/falling_weight", data={"seen": hidden(page, "seen"), "at.1": at, "v.1": "1.5", "u.1": "m"}
    ).text
    marks = {line.partition(",")[0] for line in csv(folder).splitlines() if "falling_weight" in line}
    assert marks == {at}


def test_a_series_keeps_its_order(bench: TestClient, folder: Path) -> None:
    """The first time goes with the first volts, the second with the second."""
    page = bench.get("/bench/run_down").text
    boxes = re.findall(r'id="v-(\d+)" name="v\.\d+"', page)
    first = {f"v.{boxes[k]}": text for k, text in enumerate(("0", "12", "", "0.5", "10.4", ""))}
    bench.post("/bench/run_down", data=first)
    said = [line.split(",")[2:4] for line in csv(folder).splitlines() if "run_down" in line]
    assert said == [["time", "0 s"], ["volts", "12 V"], ["time", "0.5 s"], ["volts", "10.4 V"]]


def test_meter_range_warmth_and_note_go_with_the_reading(bench: TestClient, folder: Path) -> None:
    """Each value gets the meter and the range of its own quantity; a note is for one reading only."""
    form = {
        "v.0": "4.47", "u.0": "V", "v.1": "600", "u.1": "rpm", "meter.V": "yellow meter", "range.V": "20 V",
        "meter.rad/s": "film", "warm": "warm", "note": "clip held by hand",
    }  # fmt: skip
    page = bench.post("/bench/spin_open", data=form).text
    volts, speed = csv(folder).splitlines()[-2:]
    assert "20 V,yellow meter,warm" in volts
    assert "film" in speed
    assert "yellow" not in speed
    assert 'value="yellow meter"' in page
    assert 'id="note" name="note" value=""' in page


def test_an_odd_reading_is_named_and_can_be_left_out_and_taken_back(bench: TestClient, folder: Path) -> None:
    """Ten times too many volts: named on both pages; left out with a reason it stays in the file; and back."""
    for rpm in (300, 900, 1500, 600, 1200):
        spin(bench, rpm)
    spin(bench, 1000, volts=10 * K * 1000)
    page = bench.get("/bench").text
    assert 'id="h-odd"' in page
    line = csv(folder).count("\n") - 1
    form = {"seen": hidden(page, "seen_readings"), "line": str(line), "why": ""}
    reply = bench.post("/bench/aside", data=form)
    assert reply.status_code == 400
    assert "Say why" in reply.text
    assert bench.post("/bench/aside", data=form | {"why": "point in the wrong place"}).status_code == 303
    assert "no: point in the wrong place" in csv(folder)
    page = bench.get("/bench").text
    assert "point in the wrong place" in page
    seen = re.findall(r'name="seen" value="([^"]*)"', page.partition('id="h-every"')[2])[0]
    assert bench.post("/bench/back", data={"seen": seen, "line": str(line)}).status_code == 303
    assert "no: point" not in csv(folder)


def test_leaving_out_on_the_page_of_a_procedure_keeps_what_is_typed(bench: TestClient, folder: Path) -> None:
    """The reason goes to the file, the row opens again, and half-typed boxes stay as they were."""
    page = spin(bench, 600)
    form = {"seen": hidden(page, "seen"), "at.1": hidden(page, "at.1"), "w.0": "3", "w.1": "4", "v.0": "4.47", "v.1": "600",
            "v.4": "", "v.5": "", "why.3": "drill slowed", "meter.V": "red one"}  # fmt: skip
    reply = bench.post("/bench/spin_open", data=form)
    assert reply.status_code == 200
    assert "no: drill slowed" in csv(folder)
    assert 'value="red one"' in reply.text
    assert 'name="back" value="3"' in reply.text


def test_keeping_writes_the_rig_file_and_can_be_taken_back(bench: TestClient, folder: Path) -> None:
    """Constants go in as measured; the comments stay; undo restores every byte."""
    for rpm in (300, 900, 1500):
        spin(bench, rpm)
    page = bench.get("/bench").text
    form = {
        "seen": hidden(page.partition("/bench/keep")[2], "seen"),
        "seen_readings": hidden(page, "seen_readings"),
    }
    assert bench.post("/bench/keep", data=form | {"seen": "0" * 64}).status_code == 409
    assert bench.post("/bench/keep", data=form).status_code == 303
    kept = (folder / "rig.toml").read_text(encoding="utf-8")
    assert '"0.075 V*s/rad +/- 0.002"' not in kept
    assert "V*s/rad" in kept
    assert "This comment has to outlive every edit" in kept
    assert "Undo" in bench.get("/bench").text
    bench.post("/rig/undo", data={"back": "/bench"})
    assert (folder / "rig.toml").read_text(encoding="utf-8") == RIG


def test_a_file_changed_elsewhere_is_not_written_over(bench: TestClient, folder: Path) -> None:
    """Somebody adds a line by hand meanwhile: 409, what was typed stays, a second press goes through."""
    page = spin(bench, 600)
    theirs = csv(folder) + "11:00,open_volts,volts,6.71 V\n,,speed,900 rpm\n"
    (folder / "readings.csv").write_text(theirs, encoding="utf-8")
    form = {"seen": hidden(page, "seen"), "v.4": "8.94", "u.4": "V", "v.5": "1200", "u.5": "rpm"}
    reply = bench.post("/bench/spin_open", data=form)
    assert reply.status_code == 409
    assert csv(folder) == theirs
    assert 'value="8.94"' in reply.text
    again = bench.post("/bench/spin_open", data=form | {"seen": hidden(reply.text, "seen")})
    assert again.status_code == 200
    assert csv(folder).startswith(theirs)


def test_one_yes_hides_every_hard_effort_and_nothing_is_kept(bench: TestClient, folder: Path) -> None:
    """The questions come first; a yes leaves the gentle way; neither files nor cookies nor the address name an answer."""
    assert "Answer every question first" in bench.get("/bench/hard_efforts").text
    names = re.findall(r'type="radio" name="(\w+)" value="no"', bench.get("/bench").text)
    assert len(names) == 9
    reply = bench.post("/bench/health", data=dict.fromkeys(names[:-1], "no"))
    assert reply.status_code == 400
    assert reply.text.count("checked") == 8
    reply = bench.post("/bench/health", data=dict.fromkeys(names, "no") | {"heart": "yes"})
    assert reply.headers["location"] == "/bench?health=yes#procedures"
    assert "set-cookie" not in reply.headers
    page = bench.get("/bench?health=yes").text
    assert 'href="/bench/gentle_steps?health=yes"' in page
    assert "/bench/hard_efforts" not in page
    assert bench.get("/bench/hard_efforts?health=yes").text.count('id="steps"') == 0
    assert bench.post("/bench/hard_efforts?health=yes", data={"v.0": "5 min"}).status_code == 400
    assert bench.get("/bench/hard_efforts.pdf?health=yes").status_code == 400
    assert sorted(p.name for p in folder.iterdir()) == ["rig.toml"]
    reply = bench.post("/bench/health", data=dict.fromkeys(names, "no") | {"want": "hard_efforts"})
    assert reply.headers["location"] == "/bench/hard_efforts?health=no"
    assert 'id="steps"' in bench.get("/bench/hard_efforts?health=no").text


def test_papers(bench: TestClient) -> None:
    """The steps with empty boxes, and labels of the parts, as PDF."""
    for path in ("/bench/spin_open.pdf", "/bench/labels.pdf"):
        reply = bench.get(path)
        assert reply.status_code == 200, reply.text
        assert reply.content.startswith(b"%PDF")


def test_a_label_brings_its_part_back(bench: TestClient, folder: Path) -> None:
    """The text of a label restores the part; a text that is none is told beside its box and stays."""
    from sparewatt.files import read_rig
    from sparewatt.present.label_text import to_text
    from sparewatt.present.labels import label_of

    text = to_text(label_of(read_rig(folder).rig, "machine"))
    (folder / "rig.toml").write_text(RIG.replace("0.075 V*s/rad +/- 0.002", "0.2 V*s/rad"), encoding="utf-8")
    seen = bench.get("/api/rig").json()["seen"]
    reply = bench.post("/bench/label", data={"seen": seen, "label": "no label at all"})
    assert reply.status_code == 400
    assert "no label at all" in reply.text
    assert bench.post("/bench/label", data={"seen": seen, "label": text}).status_code == 303
    assert read_rig(folder).rig.machine.emf_constant.value == pytest.approx(0.075)


def test_lines_that_cannot_be_read_are_told_with_their_number(bench: TestClient, folder: Path) -> None:
    """A slip in the hand-edited file is shown; the rest counts."""
    spin(bench, 600)
    (folder / "readings.csv").write_text(csv(folder) + "12:00,open_volts,volts,apples\n", encoding="utf-8")
    page = bench.get("/bench").text
    assert "readings.csv:5" in page


def test_the_json_twin(bench: TestClient) -> None:
    """The same answer with its published keys; a word that is none of the answers is refused."""
    spin(bench, 600)
    body = bench.get("/api/bench").json()
    assert body["section"] == "bench"
    assert body["results"]["readings"]
    assert bench.get("/api/bench?health=maybe").status_code == 400


def test_another_site_may_not_write(bench: TestClient, folder: Path) -> None:
    """Every write of the bench is refused when another site's page sends it."""
    for path in ("health", "aside", "back", "keep", "label", "spin_open"):
        reply = bench.post(f"/bench/{path}", data={"v.0": "1"}, headers={"sec-fetch-site": "cross-site"})
        assert reply.status_code == 403, path
    assert not (folder / "readings.csv").exists()


def test_no_such_procedure(bench: TestClient) -> None:
    """404 for a name that is none."""
    assert bench.get("/bench/nothing").status_code == 404
    assert bench.get("/bench/nothing.pdf").status_code == 404
    assert bench.post("/bench/nothing").status_code == 404


FIELDS = [
    "v.0",
    "v.1",
    "u.0",
    "w.0",
    "at.1",
    "why.3",
    "aside",
    "back",
    "meter.V",
    "range.V",
    "warm",
    "seen",
    "v.99999",
]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(form=st.dictionaries(st.sampled_from(FIELDS), st.text(max_size=30)))
def test_whatever_is_sent_is_answered(bench: TestClient, form: dict[str, str]) -> None:
    """No form breaks the page."""
    assert bench.post("/bench/spin_open", data=form).status_code in (200, 400, 404, 409)


def test_the_reader_is_written_down_with_each_reading(bench: TestClient, folder: Path) -> None:
    """Who reads stands in its own column, and stays typed for the next reading."""
    page = bench.post(
        "/bench/spin_open", data={"v.0": "4.47", "u.0": "V", "v.1": "600", "u.1": "rpm", "who": "Ansa"}
    ).text
    assert all(",Ansa," in line for line in csv(folder).splitlines() if "open_volts" in line)
    assert 'name="who" value="Ansa"' in page


def test_the_word_about_the_questions_goes_with_every_link(bench: TestClient) -> None:
    """Strip, foot and the pages behind them keep it, so that nobody answers twice; another word is left out."""
    page = bench.get("/bench?health=no").text
    for path in ("/match", "/guard", "/rig", "/files"):
        assert re.search(rf'href="{path}\?[^"]*health=no', page), path
    assert "health=no" in bench.get("/guard?health=no").text.partition("<main")[0]
    assert "health" not in bench.get("/guard?health=perhaps").text.partition("<main")[0]


# ---- the phone, the drawer, a whole list ----


def heard(rpm: float) -> bytes:
    """Four seconds of a flag that ticks."""
    t = clock(4, 16000)
    return wav(ticking(rpm * RPM * t, t, 16000, seed=3), 16000)


def test_a_recording_is_heard_and_written_down_in_one_step(bench: TestClient, folder: Path) -> None:
    """Sent once; the speed is said; one press writes it down with the volts, worked out anew from the same recording."""
    reply = bench.post(
        "/bench/phone",
        data={"what": "sound", "flags": "1"},
        files={"sound": ("drill.wav", heard(620), "audio/wav")},
    )
    assert reply.status_code == 200
    assert re.search(r"It turns 61\d to 62\d turns a minute", reply.text)
    form = {name: hidden(reply.text, name) for name in ("what", "heard", "flags", "seen")}
    assert form["what"] == "sound"
    kept = bench.post("/bench/phone/keep", data=form | {"kind": "open_volts", "v.volts": "4.6", "who": "Lan"})
    assert kept.status_code == 303, kept.text
    assert "open_volts,volts,4.6 V" in csv(folder)
    assert re.search(r"open_volts,speed,6\d\d\.\d+ rpm", csv(folder))
    again = bench.post("/bench/phone/keep", data=form | {"kind": "open_volts", "v.volts": "4.6"})
    assert again.status_code == 409  # the readings are no longer those that the page showed


def test_a_slow_film_is_not_written_down(bench: TestClient, folder: Path) -> None:
    """Several speeds look alike at 30 frames a second: said, with no button to keep it; nor by hand."""
    form = {"what": "film", "film": "0 12 23 35 46 58", "rate": "30"}
    page = bench.post("/bench/phone", data=form).text
    assert "just as well" in page and "h-keep" not in page
    assert (
        bench.post("/bench/phone/keep", data=form | {"kind": "open_volts", "v.volts": "4.6"}).status_code
        == 400
    )
    assert not (folder / "readings.csv").exists()


@pytest.mark.parametrize(
    "form",
    [
        {"what": "sound"},
        {"what": "sound", "heard": "0" * 32},
        {"what": "film", "film": "twelve", "rate": "30"},
        {"what": "film", "film": "0 1 2", "rate": "x"},
        {"what": "volts", "volts": "0 12"},
        {"what": "tea"},
        {"what": "film", "film": "0 12 23", "rate": "30", "flags": "many"},
        {},
    ],
)
def test_what_the_phone_cannot_say_is_told_on_the_same_page(bench: TestClient, form: dict[str, str]) -> None:
    """400 or 404 with what to put right; the page still holds what was typed."""
    reply = bench.post("/bench/phone", data=form)
    assert reply.status_code in (400, 404)
    assert 'role="alert"' in reply.text and 'id="h-film"' in reply.text


def test_no_wav_and_too_much_are_refused(bench: TestClient) -> None:
    """Another kind of file is named as what it is; 25 MB is too much; other pages still take no more than before."""
    mp3 = bench.post(
        "/bench/phone", data={"what": "sound"}, files={"sound": ("a.mp3", b"ID3" + b"0" * 999, "audio/mpeg")}
    )
    assert mp3.status_code == 400 and "MP3" in mp3.text
    big = bench.post(
        "/bench/phone", data={"what": "sound"}, files={"sound": ("a.wav", b"0" * 26_000_000, "audio/wav")}
    )
    assert big.status_code == 413
    assert bench.post("/bench/phone/keep", data={"volts": "0" * 300_000}).status_code == 413


def test_typed_volts_run_down_to_a_picture_and_a_reading(bench: TestClient, folder: Path) -> None:
    """Pairs a line: drag over inertia is said, a picture is drawn, and the series is kept in its order."""
    volts = "\n".join(f"{0.5 * n} {12 - 0.9 * n:.1f}" for n in range(11))
    page = bench.post("/bench/phone", data={"what": "volts", "volts": volts}).text
    assert "runs down" in page and "<svg" in page
    form = {"what": "volts", "volts": volts, "kind": "run_down", "seen": hidden(page, "seen")}
    assert bench.post("/bench/phone/keep", data=form).status_code == 303
    assert csv(folder).count("run_down,volts") == 11


def test_the_drawer_answers_with_stand_and_guard(bench: TestClient) -> None:
    """Asked by the address alone, so it can be kept; what cannot be is told beside the form."""
    page = bench.get("/bench/dummy?wanted=42+W+at+12+V&drawer=8+x+12+V+21+W+bulb").text
    assert "2 × 12" in page and "cage" in page and "gulps" in page
    assert page.index("First of all") < page.index("Ways to join them")
    assert bench.get("/bench/dummy").status_code == 200
    lost = bench.get("/bench/dummy?wanted=42&drawer=tea")
    assert lost.status_code == 400 and ">\ntea</textarea>" in lost.text


def test_a_whole_list_is_pasted(bench: TestClient, folder: Path) -> None:
    """All of it or nothing: a fault names its line and the text stays typed."""
    form = {
        "kind": "run_down",
        "list": "0 12\n0.5 10.9\n1",
        "seen": hidden(bench.get("/bench").text.partition("/bench/list")[2], "seen"),
    }
    reply = bench.post("/bench/list", data=form)
    assert reply.status_code == 400 and "Line 3 has 1" in reply.text and "0.5 10.9" in reply.text
    assert not (folder / "readings.csv").exists()
    assert bench.post("/bench/list", data=form | {"list": "0 12\n0.5 10.9\n1 9.8"}).status_code == 303
    assert csv(folder).count("run_down,volts") == 3
