"""Readings files spoilt by slips of any sort: an answer, or what is wrong with its line; never an inner break."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest

from sparewatt import tasks
from sparewatt.files import write_demo
from sparewatt.files.readings import COLUMNS, readings_text
from sparewatt.files.readings_write import blank
from sparewatt.studies.bench.known_taken import taken_of
from sparewatt.studies.bench.procedures import guides
from sparewatt.studies.bench.reading_kinds import READINGS

JUNK = (
    "", "0", "-1 V", "1e400", "nan", "inf", "1e-320", "x", "\x00", "\x1b[2J", "5 V", "0 s", "0 rpm", "99999999 rpm",
    "1e300 V", "no", "yes", "\u202e", "12,3", "3 kg", "0 m", "1e-9 A", "1e9 ohm", "-", '"', "12 V +/- 1e300 V",
    "1 s +/- 0 s", "9" * 400, "1e200 degC",
)  # fmt: skip
VALUE, USED = COLUMNS.index("value"), COLUMNS.index("used")


def filled() -> dict[str, list[list[str]]]:
    """Every procedure's sheet filled in by pencil: procedure -> rows of cells."""
    rng, sheets = random.Random(1), {}
    for guide in guides():
        rows = [
            line.split(",")
            for line in blank(guide.procedure).splitlines()[1:]
            if not line.startswith(("#", "at,"))
        ]
        for n, row in enumerate(rows):
            one = READINGS[f"{row[1]}.{row[2]}"]
            low, high = max(one.low, 0.1), min(one.high, 30.0)
            row[VALUE] = {"time": f"{0.5 * n}"}.get(one.what, f"{rng.uniform(low, high):.3g}")
            row[VALUE + 1] = "" if one.unit in ("1", "yes") else one.unit
            row[VALUE] = "yes" if one.unit == "yes" else "300" if one.unit == "K" else row[VALUE]
        if rows:
            sheets[guide.key] = rows
    return sheets


SHEETS = filled()


def spoilt(seed: int) -> str:
    """One or more sheets with one to six slips: lines lost, doubled, swapped; cells wrong; a letter put in anywhere."""
    rng = random.Random(seed)
    rows = [list(row) for key in rng.sample(sorted(SHEETS), rng.choice((1, 1, 2, 4))) for row in SHEETS[key]]
    for _ in range(rng.choice((1, 1, 2, 3, 6))):
        k, j = rng.randrange(len(rows)), rng.randrange(len(rows))
        match rng.randrange(6):
            case 0 if len(rows) > 1:
                del rows[k]
            case 1:
                rows.insert(k, list(rows[j]))
            case 2:
                rows[k][rng.randrange(len(rows[k]))] = rng.choice(JUNK)
            case 3:
                rows[k][VALUE] = rng.choice(JUNK)
            case 4:
                rows[k][USED] = "no: slipped"
            case _:
                rows[k], rows[j] = rows[j], rows[k]
    text = "\n".join(",".join(row) for row in (list(COLUMNS), *rows))
    if rng.random() < 0.2:
        at = rng.randrange(len(text))
        text = text[:at] + rng.choice('";\t\n\r#\ufeff\x00, ') + text[at + 1 :]
    return text


def test_five_hundred_spoilt_files_are_read_or_said() -> None:
    """What is taken is whole and finite, a moment of a series has all its values, and what is wrong has its line."""
    for seed in range(500):
        found = readings_text(spoilt(seed), Path("readings.csv"), partly=True)
        assert all(problem.line and problem.problem for problem in found.problems), seed
        taken, lacking = taken_of(found.ready)
        assert all(one.why for one in lacking), seed
        for one in taken:
            assert {v.value.size for v in one.values.values()} <= {1, one.size}, (seed, one.key)
            assert all(np.isfinite(v.value).all() and (v.sd >= 0).all() for v in one.values.values()), (
                seed,
                one.key,
            )


@pytest.mark.parametrize("seed", [0, 1, 3, 6, 7, 8])
def test_a_spoilt_file_still_has_a_bench(tmp_path: Path, seed: int) -> None:
    """The whole answer comes of it, and every line that could not be read stands among what to keep in mind."""
    place = write_demo("skerry", tmp_path).path
    assert place is not None
    (tmp_path / "readings.csv").write_text(spoilt(1000 + seed), encoding="utf-8")
    answer = tasks.bench(place)
    wrong = readings_text(spoilt(1000 + seed), tmp_path / "readings.csv", partly=True).problems
    assert {problem.sentence() for problem in wrong} <= set(answer.caveats)


def test_a_scale_read_only_on_the_way_down_counts_as_well(tmp_path: Path) -> None:
    """Once going down and once coming up: both stand in the fit with what was read."""
    place = write_demo("skerry", tmp_path).path
    assert place is not None
    rows = [["1", "lever_torque", "arm", "0.3 m"], ["", "", "amps", "3 A"], ["", "", "rising", "0.23 kg"],
            ["2", "lever_torque", "amps", "3 A"], ["", "", "falling", "0.21 kg"]]  # fmt: skip
    (tmp_path / "readings.csv").write_text("\n".join(",".join(row) for row in [list(COLUMNS[:4]), *rows]))
    found = tasks.bench(place).study.fitted  # type: ignore[attr-defined]
    assert np.isfinite(found.chi2)
    assert [row.used for row in found.rows] == [True, True]
    assert [row.seen for row in found.rows] == [pytest.approx(0.23), pytest.approx(0.21)]
