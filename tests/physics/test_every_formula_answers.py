"""Every formula answers somebody: a section, a named piece of coming work, or the tests that hold the rig against it."""

from __future__ import annotations

import ast
import functools
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

import sparewatt

Name = tuple[str, str]  # chapter, formula

SOURCE = Path(sparewatt.__file__).parent
PHYSICS = SOURCE / "physics"
TESTS = Path(__file__).parents[1]
WAITING = Path(__file__).with_name("waiting.toml")
HELD = "held against"
WORK = {
    "one answer for one ask", "machines, stores and people", "heap and workshop", "build pack", "ride",
    "outage and rooms", HELD,
}  # fmt: skip


def parsed(path: Path) -> ast.Module:
    """The syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"))


def asked(tree: ast.AST, module: ast.Module, own: dict[str, Name] | None = None) -> set[Name]:
    """Names of physics chapters that a piece of a module mentions; own: names of the chapter it stands in."""
    chapters: dict[str, str] = {}
    names: dict[str, Name] = dict(own or {})
    for node in ast.walk(module):
        if isinstance(node, ast.ImportFrom) and node.module == "sparewatt.physics":
            chapters |= {a.asname or a.name: a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("sparewatt.physics."):
            chapter = str(node.module).rsplit(".", 1)[1]
            names |= {a.asname or a.name: (chapter, a.name) for a in node.names}
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in chapters:
            found.add((chapters[node.value.id], node.attr))
        elif isinstance(node, ast.Name) and node.id in names:
            found.add(names[node.id])
    return found


def targets(node: ast.stmt) -> list[str]:
    """Names a statement at the top of a module gives."""
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        return [node.name]
    if isinstance(node, ast.Assign):
        return [t.id for t in node.targets if isinstance(t, ast.Name)]
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
        return [node.target.id]
    return []


@functools.cache
def chapters() -> tuple[dict[Name, set[Name]], frozenset[Name]]:
    """What each name of the physics calls, and its public formulas."""
    calls: dict[Name, set[Name]] = {}
    public = set()
    for path in sorted(PHYSICS.glob("*.py")):
        module, chapter = parsed(path), path.stem
        tops = [node for node in module.body if targets(node) not in ([], ["__all__"])]
        own = {name: (chapter, name) for node in tops for name in targets(node)}
        for node in tops:
            for name in targets(node):
                calls[chapter, name] = asked(node, module, own) - {(chapter, name)}
                if isinstance(node, ast.FunctionDef) and not name.startswith("_") and chapter[0] != "_":
                    public.add((chapter, name))
    return calls, frozenset(public)


def reached(starts: Iterable[Name]) -> set[Name]:
    """The names and everything in the physics that they call in turn."""
    calls, _public = chapters()
    seen: set[Name] = set()
    todo = list(starts)
    while todo:
        name = todo.pop()
        if name not in seen:
            seen.add(name)
            todo += calls.get(name, ())
    return seen


def callers(folder: Path, without: Path) -> Iterator[Name]:
    """Names of the physics that files below a folder mention, those below another left out."""
    for path in sorted(folder.rglob("*.py")):
        if without not in path.parents:
            module = parsed(path)
            yield from asked(module, module)


@functools.cache
def answering() -> frozenset[Name]:
    """Formulas that some section asks, directly or through others."""
    return frozenset(reached(callers(SOURCE, PHYSICS)))


@functools.cache
def waiting() -> dict[str, dict[Name, str]]:
    """Piece of work -> formulas that wait for it, each with what it will be for."""
    table = tomllib.loads(WAITING.read_text(encoding="utf-8"))
    return {
        work: {(k.split(".")[0], k.split(".")[1]): says for k, says in rows.items()}
        for work, rows in table.items()
    }


def test_every_formula_answers_somebody_or_waits_for_named_work() -> None:
    """A public formula that no section asks, and that is not on the list, has no reason to be there."""
    _calls, public = chapters()
    assert len(public) > 150
    assert len(answering() & public) > 100
    listed = reached(name for rows in waiting().values() for name in rows)
    assert sorted(public - answering() - listed) == []


def test_nothing_waits_that_is_asked_already() -> None:
    """The list shrinks as sections take formulas up."""
    assert sorted(name for rows in waiting().values() for name in rows if name in answering()) == []


def test_the_list_names_formulas_and_work_that_exist() -> None:
    """Each line names a public formula, under a piece of work that is planned, and says what for."""
    _calls, public = chapters()
    assert set(waiting()) == WORK
    for rows in waiting().values():
        assert sorted(set(rows) - public) == []
        assert all(len(says.split()) >= 2 for says in rows.values())


def test_what_the_rig_is_held_against_is_called_by_such_a_test() -> None:
    """A closed form that is kept for the tests of the rig is called by one of them, not by its own chapter's alone."""
    called = set(callers(TESTS, TESTS / "physics"))
    assert sorted(set(waiting()[HELD]) - called) == []


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("from sparewatt.physics import heat\nheat.copper_factor(1.0)", {("heat", "copper_factor")}),
        ("from sparewatt.physics import machine as m\nx = m.emf", {("machine", "emf")}),
        ("from sparewatt.physics.bench import mark_speed as f\nf(1.0)", {("bench", "mark_speed")}),
        ("heat = 3\nheat.copper_factor", set()),
    ],
)
def test_the_ways_a_formula_is_asked(source: str, found: set[Name]) -> None:
    """By its chapter, by another name of its chapter, and by itself; a like-named thing does not count."""
    tree = ast.parse(source)
    assert asked(tree, tree) == found
