"""The terminal's pictures: 80 columns, in letters any terminal has when asked."""

from __future__ import annotations

import pytest
from tests.present import samples

from sparewatt.present.drawings import plain

PICTURES = {
    "chain": lambda **how: plain.chain_text(samples.chain(), **how),
    "long chain": lambda **how: plain.chain_text(samples.long_chain(), **how),
    "backwards": lambda **how: plain.chain_text(samples.short_chain(), **how),
    "leg": lambda **how: plain.leg_text(samples.match(), **how),
    "stalls": lambda **how: plain.leg_text(samples.match(stalls=True), **how),
    "room": lambda **how: plain.room_text(samples.room(), **how),
}


@pytest.mark.parametrize("name", PICTURES)
def test_eighty_columns(name):
    """No line is longer than 80 letters."""
    assert max(map(len, PICTURES[name]().splitlines())) <= 80


@pytest.mark.parametrize("name", PICTURES)
def test_plain_letters_only(name):
    """On request there is nothing but ASCII."""
    assert PICTURES[name](ascii_only=True).isascii()


def test_bars_are_watts():
    """A link with half the watts has half the bar."""
    lines = plain.chain_text(samples.chain()).splitlines()
    full = next(line for line in lines if "Ansa" in line).count("\u2588")
    arrives = next(line for line in lines if "arrives" in line).count("\u2588")
    assert arrives / full == pytest.approx(89 / 150, abs=0.05)


def test_binding_link_is_marked():
    """What binds has a mark in the first column."""
    lines = plain.chain_text(samples.chain()).splitlines()
    assert [line[:16] for line in lines if line.startswith("!")] == ["!step-down board"]


def test_rings_in_letters():
    """Solid and hollow ring appear once each in the plot."""
    plot = plain.leg_text(samples.match()).split("\u2514")[0]
    assert plot.count("\u25cf") == 1
    assert plot.count("\u25cb") == 1


def test_no_chain():
    """Nothing to show is said."""
    assert plain.chain_text(()) == "There is no chain to show."
