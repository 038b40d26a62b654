"""The worked number in each docstring of the electrical chapters is what the function gives."""

from __future__ import annotations

import importlib
import inspect
import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

CHAPTERS = ("machine", "heat", "converter", "store", "appliances", "bus")
WORKED = re.compile(r"^Worked: (?P<call>.+?\S) = (?P<printed>[^=]+?)\nSource: \[", re.MULTILINE | re.DOTALL)


def _functions() -> Iterator[tuple[str, str]]:
    for chapter in CHAPTERS:
        module = importlib.import_module(f"sparewatt.physics.{chapter}")
        for name in module.__all__:
            if inspect.isfunction(getattr(module, name)):
                yield chapter, name


def _numbers(value: Any) -> np.ndarray:
    parts = value if isinstance(value, tuple) else (value,)
    return np.hstack([np.ravel(np.asarray(part, dtype=float)) for part in parts])


@pytest.mark.parametrize(("chapter", "name"), list(_functions()))
def test_the_worked_number_is_right(chapter: str, name: str) -> None:
    """The call printed in the docstring, made for real, gives what is printed beside it, to about three digits."""
    module = importlib.import_module(f"sparewatt.physics.{chapter}")
    found = WORKED.findall(inspect.getdoc(getattr(module, name)) or "")
    assert len(found) == 1
    call, printed = (re.sub(r"\s+", " ", text) for text in found[0])
    assert call.startswith(name + "(")
    got, wanted = eval(call, dict(vars(module))), eval(printed)
    if isinstance(wanted, str):
        assert got == wanted
    else:
        assert _numbers(got) == pytest.approx(_numbers(wanted), rel=6e-4)
