"""What every formula promises: a source that exists, names from one vocabulary, and an answer that follows its units."""

from __future__ import annotations

import importlib
import importlib.util
import inspect
import pkgutil
import re
import sys
import tomllib
import typing
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

import sparewatt.physics
from sparewatt.quantities import dimension
from sparewatt.quantities.q import Q
from sparewatt.quantities.vocabulary import NAMES, merged

HERE = Path(__file__).parent
REFERENCES = Path(sparewatt.physics.__file__).parents[1] / "references"
HOW = {"seen", "derived", "memory", "practice"}
CHAPTERS = sorted(
    m.name for m in pkgutil.iter_modules(sparewatt.physics.__path__) if not m.name.startswith("_")
)
MECHANICAL = 5  # length, mass, time, current, temperature; angles count as plain numbers


def _module(chapter: str) -> ModuleType:
    return importlib.import_module(f"sparewatt.physics.{chapter}")


def _tests_of(chapter: str) -> ModuleType:
    """The test file of a chapter, which holds its samples."""
    name = f"samples_of_{chapter}"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, HERE / f"test_{chapter}.py")
        assert spec is not None
        assert spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


def _functions(chapter: str) -> dict[str, Callable[..., Any]]:
    """Public functions that live in the chapter itself."""
    module = _module(chapter)
    found = {name: getattr(module, name) for name in module.__all__}
    return {n: f for n, f in found.items() if inspect.isfunction(f) and f.__module__ == module.__name__}


def _cases() -> Iterator[tuple[str, str]]:
    for chapter in CHAPTERS:
        for name in _functions(chapter):
            yield chapter, name


def _sources() -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for table in sorted(REFERENCES.glob("*.toml")):
        for key, row in tomllib.loads(table.read_text(encoding="utf-8")).items():
            assert found.setdefault(key, row) == row, f"two sources share the key {key}"
    return found


CASES = list(_cases())
SOURCES = _sources()


def factor(unit: str, scale: np.ndarray) -> float:
    """How a number in this unit changes when the base units are rescaled."""
    return float(np.prod(scale ** np.array(dimension(unit)[:MECHANICAL], dtype=float)))


def _moved(value: Any, unit: str, scale: np.ndarray) -> Any:
    if value is None or isinstance(value, str | bool):
        return value
    return np.asarray(value, dtype=float)[()] * factor(unit, scale)


def _answers(result: Any, units: Any) -> list[tuple[Any, str]]:
    """Each number of an answer beside its unit."""
    if isinstance(units, str):
        return [(result, units)]
    if isinstance(units, dict):
        return [(getattr(result, name), unit) for name, unit in units.items()]
    assert len(result) == len(units)
    return list(zip(result, units, strict=True))


def follows_its_units(function: Callable[..., Any], sample: dict[str, Any], units: Any, seed: int) -> bool:
    """True when the answer in other base units is the same answer; defaults are constants and are rescaled too."""
    scale = np.random.default_rng(seed).uniform(0.5, 2.0, MECHANICAL)
    full = dict(sample)
    for name, parameter in inspect.signature(function).parameters.items():
        if parameter.default is not inspect.Parameter.empty:
            full.setdefault(name, parameter.default)
    moved = {name: _moved(value, NAMES[name].unit, scale) for name, value in full.items()}
    pairs = zip(_answers(function(**full), units), _answers(function(**moved), units), strict=True)
    return all(
        np.allclose(np.asarray(new, dtype=float), np.asarray(old, dtype=float) * factor(unit, scale), rtol=1e-9, atol=0)
        for (old, unit), (new, _same) in pairs
    )  # fmt: skip


def reads_words(function: Callable[..., Any]) -> bool:
    """True for a function that looks numbers up by a word, so that it cannot follow a change of units."""
    return any(
        "str" in str(hint) for name, hint in typing.get_type_hints(function).items() if name != "return"
    )


@pytest.mark.parametrize("chapter", CHAPTERS)
def test_chapter_lists_its_names(chapter: str) -> None:
    """Every public function and class of a chapter stands in its list of names."""
    module = _module(chapter)
    written = {
        name
        for name, value in vars(module).items()
        if not name.startswith("_")
        and (inspect.isfunction(value) or inspect.isclass(value))
        and value.__module__ == module.__name__
    }
    assert written <= set(module.__all__)


@pytest.mark.parametrize(("chapter", "name"), CASES)
def test_docstring_names_a_source_that_exists(chapter: str, name: str) -> None:
    """The docstring ends in one or more source keys, and each is in a table of references."""
    text = inspect.getdoc(_functions(chapter)[name]) or ""
    assert text.count("Source:") == 1
    keys = [
        key.strip()
        for group in re.findall(r"\[([\w ,-]+)\]", text.split("Source:")[1])
        for key in group.split(",")
    ]
    assert keys
    assert [key for key in keys if key not in SOURCES] == []


@pytest.mark.parametrize(("chapter", "name"), CASES)
def test_every_parameter_is_in_the_vocabulary(chapter: str, name: str) -> None:
    """No formula takes a quantity that the vocabulary does not name."""
    assert [p for p in inspect.signature(_functions(chapter)[name]).parameters if p not in NAMES] == []


@pytest.mark.parametrize(("chapter", "name"), CASES)
def test_answer_follows_its_units(chapter: str, name: str) -> None:
    """In other base units of length, mass, time, current and temperature the answer is the same answer."""
    function, tests = _functions(chapter)[name], _tests_of(chapter)
    if name not in tests.SAMPLES:
        assert reads_words(function) or name in getattr(tests, "LOOKUPS", ())
        return
    sample, units = tests.SAMPLES[name]
    assert all(follows_its_units(function, sample, units, seed) for seed in (1, 2, 3))


def test_a_slip_of_units_is_caught() -> None:
    """A formula that adds what cannot be added, or hides a constant with a unit, fails the rescaling."""
    assert not follows_its_units(
        lambda v_bus, r_wind: v_bus + r_wind, {"v_bus": 12.0, "r_wind": 0.3}, "V", seed=1
    )
    assert not follows_its_units(lambda duration: duration / 60.0 + 1.0, {"duration": 90.0}, "1", seed=1)
    assert follows_its_units(
        lambda v_bus, r_wind: v_bus / r_wind, {"v_bus": 12.0, "r_wind": 0.3}, "A", seed=1
    )


@pytest.mark.parametrize("key", sorted(SOURCES))
def test_source_says_how_it_is_known(key: str) -> None:
    """Every source has a title, a place, and one of the four words for how its figures are known."""
    row = SOURCES[key]
    assert row["title"]
    assert set(row) == {"title", "author", "year", "where", "how"}
    assert row["how"] in HOW


def test_sources_are_used() -> None:
    """No source stands in a table for nothing: some formula, table of figures or section names it."""
    files = [
        p
        for p in REFERENCES.parent.rglob("*")
        if p.suffix in (".py", ".toml", ".html") and REFERENCES not in p.parents
    ]
    words = set(re.findall(r"\w+", " ".join(path.read_text(encoding="utf-8") for path in files)))
    assert sorted(set(SOURCES) - words) == []


def test_every_unit_in_the_vocabulary_can_be_read() -> None:
    """Each unit text is one the unit table knows, and each name has its sentence."""
    for name, quantity in NAMES.items():
        assert len(dimension(quantity.unit)) == 7
        assert len(quantity.says) > 5, name


def test_a_name_in_two_tables_is_refused() -> None:
    """A quantity has one name, one unit and one sentence."""
    with pytest.raises(ValueError, match="'v_bus' is in one and in two"):
        merged({"one": {"v_bus": Q("V", "volts of the bus")}, "two": {"v_bus": Q("V", "bus volts")}})


def test_every_name_is_taken_by_some_formula() -> None:
    """No word stands in the vocabulary for nothing."""
    taken = {p for c, n in CASES for p in inspect.signature(_functions(c)[n]).parameters}
    assert sorted(set(NAMES) - taken) == []
