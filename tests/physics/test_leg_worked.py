"""The worked number in each docstring of the leg, drive and wire chapters is what the function gives."""

from __future__ import annotations

import importlib
import inspect
import re
from collections.abc import Iterator
from decimal import Decimal

import pytest

CHAPTERS = ("rider", "body", "gearing", "roller", "belts", "wire")
WORKED = re.compile(r"^Worked: (?P<call>.+?) = (?P<printed>-?[\d.]+(?:e-?\d+)?)$", re.MULTILINE | re.DOTALL)


def _functions() -> Iterator[tuple[str, str]]:
    for chapter in CHAPTERS:
        module = importlib.import_module(f"sparewatt.physics.{chapter}")
        for name in module.__all__:
            function = getattr(module, name)
            if inspect.isfunction(function) and function.__module__ == module.__name__:
                yield chapter, name


@pytest.mark.parametrize(("chapter", "name"), list(_functions()))
def test_the_worked_number_is_right(chapter: str, name: str) -> None:
    """The call printed in the docstring, made for real, rounds to the digits printed beside it."""
    module = importlib.import_module(f"sparewatt.physics.{chapter}")
    found = WORKED.findall(inspect.getdoc(getattr(module, name)) or "")
    assert len(found) == 1
    call, printed = found[0]
    assert name + "(" in call
    last_place = float(Decimal(1).scaleb(int(Decimal(printed).as_tuple().exponent)))
    assert eval(call, dict(vars(module))) == pytest.approx(float(printed), abs=0.51 * last_place)
