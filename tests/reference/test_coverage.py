"""Every published check value is used by some test, or is named here with the reason why it waits."""

from __future__ import annotations

import ast
import csv
import functools
from pathlib import Path

TESTS = Path(__file__).parents[1]
CHECKS = TESTS / "reference" / "checks.csv"

WAITING = {
    "O02": "no number; sizing a battery for an outage is a later step",
    "O03": "loss of load over a plan of days is a later step",
    "O04": "loss of load over a plan of days is a later step",
    "O05": "a pedal day for a plan of days is a later step",
    "O06": "sizing a battery for an outage in the cold is a later step",
    "O07": "no number; why batteries fail early belongs to the plan of days, a later step",
}


def ids() -> list[str]:
    """The id of every row of the check values."""
    lines = [x for x in CHECKS.read_text(encoding="utf-8").splitlines() if x and not x.startswith("#")]
    return [row["id"] for row in csv.DictReader(lines)]


@functools.cache
def covered() -> dict[str, list[str]]:
    """Id -> test modules that name it in their COVERS list."""
    found: dict[str, list[str]] = {}
    for path in sorted(TESTS.rglob("test_*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            targets = (
                node.targets
                if isinstance(node, ast.Assign)
                else [node.target]
                if isinstance(node, ast.AnnAssign)
                else []
            )
            if any(isinstance(t, ast.Name) and t.id == "COVERS" for t in targets):
                assert isinstance(node, ast.Assign | ast.AnnAssign)
                assert node.value is not None
                for name in ast.literal_eval(node.value):
                    found.setdefault(name, []).append(str(path.relative_to(TESTS)))
    return found


def test_every_check_value_is_used_or_waits_with_a_reason() -> None:
    """A row that no test names and no reason excuses is a hole."""
    assert len(ids()) > 100
    assert [name for name in ids() if name not in covered() and name not in WAITING] == []


def test_nothing_waits_that_is_used() -> None:
    """A row that a test has taken up is taken off the waiting list."""
    assert [name for name in WAITING if name in covered()] == []


def test_no_made_up_rows() -> None:
    """Tests and waiting list name only rows that exist."""
    known = set(ids())
    assert sorted((set(covered()) | set(WAITING)) - known) == []


def test_every_reason_is_a_reason() -> None:
    """One clause at least."""
    assert all(len(why.split()) > 4 for why in WAITING.values())


def test_each_named_row_stands_in_its_module() -> None:
    """A module that covers a row speaks of it outside of the list as well: the list alone tests nothing."""
    for name, modules in covered().items():
        for module in modules:
            source = (TESTS / module).read_text(encoding="utf-8")
            assert source.count(name) >= 2, f"{module} lists {name} and never mentions it again"
