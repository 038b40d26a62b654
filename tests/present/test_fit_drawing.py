"""The drawing of a fit: the line with its band, readings with error bars, odd ones by shape and word, residuals."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from tests.present import reading

from sparewatt.present.drawings import fit
from sparewatt.present.palette import LIGHT, PRINT, page_css
from sparewatt.studies.bench.answers import FittedPicture, ReadingRow

RPM = 2 * math.pi / 60
K = 0.07  # V*s/rad, made up
KNOWN = set(re.findall(r"\.(d[tlfsw][a-z0-9-]*)", page_css())) | {"dw-wide", "dw-narrow", "dw"}
CAUSE = {"r2": "point in the wrong place"}


def row(n: int, rpm: float, times: float = 1.0, used: bool = True, left_out: str = "") -> ReadingRow:
    """A reading of open volts, so many times what the line says."""
    w = rpm * RPM
    seen = K * w * times
    sd = 0.02 + 0.01 * K * w
    return ReadingRow(
        key=f"r{n}", says="", procedure="open_volts", at=str(n), x=w, seen=seen, fitted=K * w, sd=sd,
        residual=(seen - K * w) / sd, unit="V", used=used, left_out=left_out, lines=(2 * n + 3, 2 * n + 4),
    )  # fmt: skip


def picture(*points: ReadingRow, band: float = 0.05) -> FittedPicture:
    """A straight line through zero with a band."""
    x = np.linspace(0, 1700 * RPM, 41)
    return FittedPicture(
        procedure="open_volts", says="", x_name="speed", x_unit="rad/s", y_name="volts", y_unit="V",
        x=x, y=K * x, low=K * x * (1 - band), high=K * x * (1 + band), points=points,
    )  # fmt: skip


def usual() -> FittedPicture:
    """Four that count, one odd, one left out by hand."""
    return picture(
        row(0, 300), row(1, 600, 1.01), row(2, 900, 10.0, used=False, left_out="it lies far off"),
        row(3, 1200, 0.99), row(4, 1500), row(5, 1000, 1.2, used=False, left_out="you put it aside"),
    )  # fmt: skip


@pytest.mark.parametrize("wide", [560, 344])
def test_it_keeps_the_house_rules(wide: float) -> None:
    """Title, numbers in the text alternative, no small letter, only known classes, no style, nothing covered or cut off."""
    svg = fit.fit_picture(usual(), odd=CAUSE, wide=wide)
    assert reading.tree(svg).find(f"{reading.SVG}title").text  # type: ignore[union-attr]
    assert any(letter.isdigit() for letter in reading.desc(svg))
    assert min(w.size for w in reading.words(svg)) >= 15
    assert reading.classes(svg) <= KNOWN
    assert " style=" not in svg
    assert reading.overlaps(svg) == []
    assert reading.outside(svg) == []


@pytest.mark.parametrize("palette", [LIGHT, PRINT])
def test_it_stands_alone(palette: object) -> None:
    """For a file or one-colour paper it carries its own colours."""
    svg = fit.fit_picture(usual(), standalone=True, palette=palette)  # type: ignore[arg-type]
    assert "var(" not in svg
    assert palette.ink in svg  # type: ignore[attr-defined]


def test_odd_ones_are_told_by_shape_and_word() -> None:
    """A diamond and its cause for the odd one, a cross and "left out" for the other; dots for those that count."""
    svg = fit.fit_picture(usual(), odd=CAUSE)
    said = " ".join(w.words for w in reading.words(svg))
    assert "point in the wrong place" in said
    assert "left out" in said
    assert len(re.findall(r'class="ds-boxacc"', svg)) == 2  # on the line's picture, and below it
    assert len(re.findall(r'<circle class="df-ink"', svg)) == 8  # four that count, twice


def test_a_reading_far_off_does_not_squash_the_rest() -> None:
    """Ten times too much stands at the edge: the line still fills most of the height."""
    svg = fit.fit_picture(usual(), odd=CAUSE)
    path = re.findall(r'<path class="dl" d="M[\d.]+ ([\d.]+)(?:L[\d.]+ [\d.]+)*L[\d.]+ ([\d.]+)"', svg)[0]
    assert abs(float(path[0]) - float(path[1])) > 150


def test_the_caption_counts_and_says_the_band() -> None:
    """Hand: at 1500 a minute 0.07 * 157.1 = 11.0 V, 5 % either way is 10.4 to 11.6 V."""
    said = fit.caption(usual(), CAUSE)
    assert said.startswith(
        "4 readings make the line; not counted: line 7, point in the wrong place; line 13, left out."
    )
    found = re.search(r"it says ([\d.]+) to ([\d.]+)", said)
    assert found
    assert float(found[1]) == pytest.approx(10.4, abs=0.15)
    assert float(found[2]) == pytest.approx(11.6, abs=0.15)


def test_no_band_is_said_in_words() -> None:
    """Where the fit has no band, the caption says so and nothing is filled."""
    bare = picture(row(0, 300), row(1, 900), band=math.nan)
    assert "no band can be given yet" in fit.caption(bare)
    assert fit.fit_picture(bare).count("df-band") == 1  # the usual-error stripe below


def test_nothing_to_draw() -> None:
    """Without a reading there is no picture."""
    assert not fit.drawable(picture())
    assert fit.drawable(usual())
