"""A scene in letters: one line a quantity, its ends in people's units, the numbers of what happens under their moments."""

from __future__ import annotations

import numpy as np
import pytest
from tests.present import scene_samples

from sparewatt.present.drawings.spark import spark_text
from sparewatt.present.words_seconds import rows
from sparewatt.studies.scenes.answers import SceneAnswer

BARS = "▁▂▃▄▅▆▇█"
SCENES = [
    scene_samples.holds(), scene_samples.stalls(), scene_samples.hiccup(), scene_samples.rejection(),
    scene_samples.hour(), scene_samples.two_rigs(), scene_samples.ripple(),
]  # fmt: skip


@pytest.mark.parametrize("scene", SCENES)
@pytest.mark.parametrize("ascii_only", [False, True])
def test_it_fits_the_terminal(scene: SceneAnswer, ascii_only: bool) -> None:
    """No line is wider than asked, and plain letters are enough where there are no others."""
    for columns in (80, 60):
        text = spark_text(scene, ascii_only=ascii_only, columns=columns)
        assert text.startswith("cadence  ")
        assert max(len(line) for line in text.splitlines()) <= columns
    assert not ascii_only or text.isascii()


def test_a_ramp_rises_from_the_lowest_bar_to_the_highest() -> None:
    """A straight rise from nothing gives bars that never fall, and the ends it runs between."""
    t = np.linspace(0.0, 20.0, 401)
    scene = scene_samples.scene(t, [scene_samples.track("bus_volts", t, 2.0 * t)])
    line = spark_text(scene).splitlines()[0]
    drawn = [BARS.index(letter) for letter in line if letter in BARS]
    assert drawn == sorted(drawn)
    assert (drawn[0], drawn[-1]) == (0, 7)
    assert line.endswith(" V")


def test_the_numbers_stand_under_their_moments() -> None:
    """Each number that has room stands where its moment is on the line, within one letter."""
    scene = scene_samples.rejection()
    lines = spark_text(scene).splitlines()
    marks = next(line for line in lines if line.strip() and set(line.strip()) <= set("0123456789 "))
    wide = len(next(line for line in lines if line.startswith("cadence")).split(" ")[2])
    for row in rows(scene):
        place = marks.find(str(row.number), 9)
        if place >= 0:
            assert abs((place - 9) - wide * row.at / scene.duration) <= 1


def test_there_is_nothing_to_draw_of_a_scene_without_time() -> None:
    """One sample is no line."""
    t = np.zeros(1)
    one = scene_samples.scene(t, [])
    assert spark_text(one) == "There is nothing to draw for this scene."
