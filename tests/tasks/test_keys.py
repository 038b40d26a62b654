"""The published numbers: one table makes both JSON and reference page, every number says its unit, nothing is not finite."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.present import scene_samples
from tests.tasks import made
from tests.web import fake_mend

from sparewatt.language.moment import Moment
from sparewatt.language.script import script_from_words
from sparewatt.rig.fill import fill
from sparewatt.rig.outcome import Stop
from sparewatt.studies.scenes.answers import SceneAnswer
from sparewatt.tasks import keys
from sparewatt.tasks.keys import Key, flatten
from sparewatt.tasks.keys_match import CHANGE, MATCH
from sparewatt.tasks.keys_mend import MEND, Ranked
from sparewatt.tasks.keys_more import GUARD, HEAP, LOADS, SECTIONS, WORTH
from sparewatt.tasks.keys_scene import SCENE, Beside, Told

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "json.md"


def told(scene: SceneAnswer, words: str = "at 5 s switch the press on", **more: Any) -> Told:
    """A made scene with a script of the made rig."""
    script = script_from_words(fill(made.rig()), words)
    return Told(scene=scene, script=script, asked=25.0, against=("stalls",), runs=0, **more)


def beside() -> Beside:
    """The same with a clamp."""
    clamped = told(scene_samples.rejection(clamp=True))
    return Beside(changes=(("clamp.voltage", "40 V"),), answer="It holds.", differs="It holds.", told=clamped)


def found(*moments: Moment) -> Ranked:
    """What a fault-finder may say of these moments."""
    m = fake_mend.made(moments)
    right = tuple(((c.number, "57 mm"),) if c.number else () for c in m.more)
    return Ranked(found=m, right=right, against=("slip",) if moments else ())


CASES = [
    ("match", MATCH, made.match(shares=made.shares(), nearest_yes=(made.change(),))),
    ("match", MATCH, made.refused(Stop.EDGE_BOARD)),
    ("worth", WORTH, made.worth(made.worth_row(), made.worth_row("kettle", "not by legs", 2e4))),
    ("loads", LOADS, made.loads(made.load_row(run=made.run_plan()), charge=made.charge_plan())),
    ("loads", LOADS, made.loads(made.load_row(bout=None))),
    ("guard", GUARD, made.guard(made.finding())),
    ("heap", HEAP, made.heap()),
    ("heap", HEAP, made.heap(purchase=None)),
    ("mend", MEND, found(Moment(volts=11.0, feel="hard"))),
    ("mend", MEND, found(Moment(volts=-11.0, at="now"), Moment(volts=15.0, fine=True, gear="42/18"))),
    ("mend", MEND, found()),
    ("scene", SCENE, told(scene_samples.holds())),
    (
        "scene",
        SCENE,
        told(scene_samples.rejection(), "at 5 s pull the plug; at 9 s shift up", beside=beside()),
    ),
    ("scene", SCENE, told(scene_samples.two_rigs(), files=("scene.csv",))),
    ("scene", SCENE, told(scene_samples.hour(), "charging, for 1 h; at 9 s ride at 90 W")),
    ("scene", SCENE, told(scene_samples.hiccup(), "from rest, with the press on; at 5 s work at 50 %")),
]


def walk(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """(path, plain value) of everything in a published object."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from walk(inner, f"{path}.{name}" if path else name)
    elif isinstance(value, list):
        for inner in value:
            yield from walk(inner, path + "[]")
    else:
        yield path, value


def names(table: tuple[Key, ...], above: str = "") -> set[str]:
    """Every path that a table may publish."""
    found: set[str] = set()
    for key in table:
        name = above + key.name
        ends = ("", "_p05", "_p95", "_why") if key.kind == "band" else ("", "_why")
        found |= {name + end for end in ends}
        if key.of:
            found |= names(key.of, f"{name}[].") | names(key.of, f"{name}.")
    return found


@pytest.mark.parametrize(("section", "table", "study"), CASES)
def test_everything_published_is_in_the_table_and_finite(
    section: str, table: tuple[Key, ...], study: Any
) -> None:
    """The object is strict JSON, holds no key that the table does not name, and each null says why."""
    out = flatten(table, study)
    back = json.loads(json.dumps(out, allow_nan=False))
    allowed = names(table)
    for path, _value in walk(back):
        plain = re.sub(r"(\[\])+$", "", path)
        inner = any(plain.startswith((f"{name}.", f"{name}[].")) for name in _mixed(table))
        assert plain in allowed or inner, path


@pytest.mark.parametrize(("section", "table", "study"), CASES)
def test_every_null_has_its_reason_beside_it(section: str, table: tuple[Key, ...], study: Any) -> None:
    """A number that is not there is null, with a key _why next to it that is a sentence."""

    def look(thing: Any) -> None:
        if isinstance(thing, dict):
            for name, value in thing.items():
                if value is None and not name.endswith("_why"):
                    why = thing.get(f"{name}_why") or thing.get(re.sub(r"_p(05|95)$", "", name) + "_why")
                    assert why or name in ("ask", "gear"), name
                look(value)
        elif isinstance(thing, list):
            for item in thing:
                look(item)

    look({k: v for k, v in flatten(table, study).items() if k not in ("leg_picture",)})


def _mixed(table: tuple[Key, ...], above: str = "") -> set[str]:
    found = set()
    for key in table:
        if key.kind == "mixed":
            found.add(above + key.name)
        if key.of:
            found |= _mixed(key.of, f"{above}{key.name}[].") | _mixed(key.of, f"{above}{key.name}.")
    return found


@pytest.mark.parametrize("section", list(SECTIONS))
def test_every_number_ends_in_its_unit(section: str) -> None:
    """Keys of numbers and bands end in an SI unit, or in share, ratio, count or coin."""

    def look(table: tuple[Key, ...]) -> None:
        for key in table:
            if key.kind in ("number", "band"):
                assert key.name.endswith(tuple(f"_{unit}" for unit in keys.UNIT_ENDS)), key.name
            assert re.fullmatch(r"[A-Za-z0-9_]+", key.name)
            assert key.says.endswith((".", "?")), key.name
            look(key.of)

    look(SECTIONS[section][1])


@pytest.mark.parametrize("section", list(SECTIONS))
def test_every_key_is_on_the_reference_page(section: str) -> None:
    """docs/reference/json.md names each key of each section, in its own part."""
    part = PAGE.read_text(encoding="utf-8").split(f"\n## {section}\n")[1].split("\n## ")[0]
    for path, _kind, says in keys.documented(SECTIONS[section][1]):
        inside_start = section == "start" and path.startswith(("match[]", "worth[]", "loads[]"))
        inside_change = "nearest_yes[]." in path or path.startswith("purchase[].")
        if not inside_start and not inside_change:
            assert f"| `{path}` |" in part, path
            assert says in part or path in ("match", "worth", "loads"), path


def test_a_band_is_three_keys() -> None:
    """Nominal value and the two ends, in one unit."""
    out = flatten(MATCH, made.match())
    assert out["delivered_power_W"] == 91
    assert out["delivered_power_W_p05"] == 78
    assert out["delivered_power_W_p95"] == 104


def test_what_has_no_end_is_null_and_says_so() -> None:
    """Infinity does not leave the program: null, with the reason."""
    out = flatten(LOADS, made.loads(made.load_row()))
    bout = out["rows"][0]["bout"]  # type: ignore[index]
    assert bout["cycles_count"] is None
    assert bout["cycles_count_why"] == "you can go on"


def test_a_scene_has_the_unit_of_every_number() -> None:
    """Tracks, peaks, steps and happenings name their SI unit; what was played once has no edges and says so."""
    once = dataclasses.replace(
        scene_samples.stalls(),
        tracks=tuple(dataclasses.replace(t, low=None, high=None) for t in scene_samples.stalls().tracks),
        runs=0,
    )
    out: Any = flatten(SCENE, told(once, "at 5 s switch the press on; at 9 s hold 80 rpm"))
    assert out["times_s"] == once.times.tolist()
    assert [t["unit"] for t in out["tracks"]] == [t.unit for t in once.tracks]
    assert all(t["values_p05"] is None and t["values_p05_why"] for t in out["tracks"])
    assert [(s["kind"], s["unit"]) for s in out["steps"]] == [("on", ""), ("cadence", "rad/s")]
    stall = next(h for h in out["happenings"] if h["key"] == "stalls")
    assert stall["unit"] == "rad/s"
    assert stall["time_s"] == pytest.approx(next(h.at for h in once.happenings if h.key == "stalls"))
    assert out["against"] == ["stalls"]


def test_the_numbers_of_happenings_are_those_of_the_picture() -> None:
    """Row n of the JSON is ring or flag n."""
    from sparewatt.present.words_seconds import rows

    scene = scene_samples.hiccup()
    out: Any = flatten(SCENE, told(scene))
    assert [(h["number_count"], h["time_s"], h["says"]) for h in out["happenings"]] == [
        (r.number, r.at, r.says) for r in rows(scene)
    ]


def test_a_change_carries_its_edits_and_its_question() -> None:
    """The nearest yes can be made by a program: edits as pairs, the question in SI."""
    out = flatten(CHANGE, made.change())
    assert out["edits"] == [["load.0.power", "90 W"]]
    assert out["ask"]["effort_W"] == 150  # type: ignore[index]
    assert out["cost_coin"] is None
    assert math.isclose(out["size_ratio"], 0.25)  # type: ignore[arg-type]


def test_what_has_no_place_in_json_is_refused() -> None:
    """An object of ours never slips out as its repr."""
    with pytest.raises(TypeError, match="no place"):
        flatten((keys.text("thing", lambda x: x, "A thing."),), object())
