"""The pages are true: what they show is what the program prints, what they link to is there, nothing goes undocumented."""

from __future__ import annotations

import re
import runpy
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import click
import pytest

from sparewatt import errors
from sparewatt.cli import COMMANDS
from sparewatt.files import load_sources
from sparewatt.parts import HOWS
from sparewatt.present.words import CHECK_WORDS, VERDICT_WORDS

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
sys.path.insert(0, str(ROOT / "scripts"))
doc_pages = import_module("doc_pages")
page_shell = import_module("page_shell")
PAGES: list[Path] = doc_pages.pages()
ALL = [ROOT / "README.md", *sorted(DOCS.rglob("*.md"))]


def name_of(path: Path) -> str:
    """A page's place, for the test's own name."""
    return path.relative_to(ROOT).as_posix()


@pytest.fixture(scope="module")
def generator() -> dict[str, Any]:
    """The script that makes the reference pages."""
    return runpy.run_path(str(ROOT / "scripts" / "generate_docs.py"))


@pytest.fixture(scope="module")
def around() -> Iterator[dict[str, str]]:
    """Where the pages' blocks run."""
    with page_shell.surroundings() as environment:
        yield environment


@pytest.mark.parametrize("page", [p for p in PAGES if doc_pages.runnable(p)], ids=name_of)
def test_what_a_page_shows_is_what_the_program_prints(page: Path, around: dict[str, str]) -> None:
    """Every block marked to run runs, and every shown output is the present one (make docs writes it anew)."""
    assert doc_pages.rewritten(page, around) == page.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["commands.md", "formulas.md", "json.md", "sources.md"])
def test_a_reference_page_is_current(name: str, generator: dict[str, Any]) -> None:
    """The generated pages are what the program would generate now."""
    assert (DOCS / "reference" / name).read_text(encoding="utf-8") == generator["PAGES"][name]()


@pytest.mark.parametrize("page", ALL, ids=name_of)
def test_links_lead_somewhere(page: Path) -> None:
    """Every link inside the repository has its file; nothing points outside."""
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", page.read_text(encoding="utf-8")):
        if target == "docs/pictures/match.png":
            continue  # a picture of the running pages; the test of the whole repository looks for it
        assert not target.startswith("http"), target
        assert (page.parent / target).exists(), f"{name_of(page)}: {target}"


def test_every_page_is_in_the_index() -> None:
    """docs/README.md leads to each page of each kind."""
    index = (DOCS / "README.md").read_text(encoding="utf-8")
    for kind in ("tutorials", "how-to", "explanation", "reference"):
        for page in (DOCS / kind).glob("*.md"):
            assert f"({kind}/{page.name})" in index


def test_every_command_and_option_is_documented() -> None:
    """Each command has its part in the command reference, with each option and its sentence."""
    text = (DOCS / "reference" / "commands.md").read_text(encoding="utf-8")
    for name in COMMANDS:
        part = text.split(f"\n## {name}\n")[1].split("\n## ")[0]
        assert COMMANDS[name] in part
        command = import_module(f"sparewatt.cli.{name}_command").command
        for option in (p for p in command.params if isinstance(p, click.Option)):
            assert f"`{option.opts[0]}" in part, f"{name} {option.opts[0]}"
            assert option.help
            assert option.help in part


def test_every_kind_of_complaint_is_documented() -> None:
    """Each class of the tree below SparewattError is in the command reference."""
    text = (DOCS / "reference" / "commands.md").read_text(encoding="utf-8")
    kinds = errors.SparewattError.__subclasses__()
    named = {name for name in errors.__all__ if isinstance(getattr(errors, name), type)}
    assert {kind.__name__ for kind in kinds} == named - {"Problem", "SparewattError"}
    for kind in kinds:
        assert f"`{kind.__name__}`" in text


def test_every_source_key_is_documented() -> None:
    """Each key of the reference tables is on the page of sources, with its title."""
    text = (DOCS / "reference" / "sources.md").read_text(encoding="utf-8")
    for key, source in load_sources().items():
        assert f"| `{key}` |" in text
        assert source.title in text


def test_the_fixed_words_are_explained() -> None:
    """Verdicts and check words, and the five ways of knowing a number, each stand on a page that explains them."""
    legs = (DOCS / "explanation" / "legs-not-kettles.md").read_text(encoding="utf-8")
    assert all(word in legs for word in VERDICT_WORDS)
    hazards = (DOCS / "explanation" / "hazards.md").read_text(encoding="utf-8").lower()
    assert all(word in hazards for word in CHECK_WORDS)
    bands = (DOCS / "explanation" / "bands.md").read_text(encoding="utf-8")
    assert all(f"`{how}`" in bands for how in HOWS)


def test_the_spreads_on_the_page_are_those_of_the_program() -> None:
    """The table of spreads in the page on bands holds the program's own shares."""
    from sparewatt.parts.values import DEFAULT_SPREAD

    bands = (DOCS / "explanation" / "bands.md").read_text(encoding="utf-8")
    for how, share in DEFAULT_SPREAD.items():
        row = next(line for line in bands.splitlines() if line.startswith(f"| `{how}`"))
        assert f"| {100 * share:.0f} % |" in row


def test_the_readme_begins_with_the_job_and_the_two_commands() -> None:
    """First the job in plain words, then the picture, then make run and make test."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    first = text.split("\n\n")[1]
    assert "legs" in first
    assert "electricity" in first
    assert (
        0
        < text.index(first)
        < text.index("docs/pictures/match.png")
        < text.index("make run")
        < text.index("make test")
    )


@pytest.mark.parametrize("page", ALL, ids=name_of)
def test_pages_promise_nothing(page: Path) -> None:
    """No page says that something is safe, guaranteed or optimal."""
    found = re.findall(
        r"\b(safe|safely|guaranteed?s?|optimal|optimum)\b", page.read_text(encoding="utf-8").lower()
    )
    allowed = page.is_relative_to(DOCS / "decisions") or page.name in (
        "formulas.md",
        "sources.md",
        "rig-file.md",
    )
    assert not found or allowed
