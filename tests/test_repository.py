"""The repository keeps its promises: light to import, nothing from outside or of one machine, letters and lock whole."""

from __future__ import annotations

import ast
import csv
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
import typst

import sparewatt

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "src" / "sparewatt"
FONTS = PACKAGE / "present" / "fonts"
FACES = ("Regular", "Bold", "Italic", "BoldItalic")
NOT_OURS = {"vendor", "node_modules", "__pycache__"}
NOT_TEXT = {".ttf", ".woff2", ".png", ".jpg", ".pdf", ".ico", ".db", ".pyc"}
HEAVY = ("numpy", "scipy", "numba", "rich", "fastapi", "jinja2", "typst")


def our_files(*suffixes: str) -> Iterator[Path]:
    """Text files written here: no hidden or made folders, nothing vendored."""
    for folder, names, files in os.walk(ROOT):
        names[:] = [n for n in names if n not in NOT_OURS and (not n.startswith(".") or n == ".ci")]
        for name in files:
            path = Path(folder, name)
            if path.suffix in NOT_TEXT or (suffixes and path.suffix not in suffixes):
                continue
            yield path


def hits(pattern: re.Pattern[str], *suffixes: str, inside: Path = ROOT) -> list[str]:
    """Where the pattern stands, as `file:line: text`."""
    found = []
    for path in our_files(*suffixes):
        if not path.is_relative_to(inside):
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            if match := pattern.search(line):
                found.append(f"{path.relative_to(ROOT)}:{number}: {match.group()}")
    return found


def fresh(code: str) -> str:
    """What this code prints in a Python process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_no_path_of_one_machine() -> None:
    """A path that exists on one machine only does not stand in any file."""
    roots = ("work", "tmp", "home", "root", "opt", "Users", "mnt")
    assert hits(re.compile(r"(?<![\w.}<~*)/-])/(" + "|".join(roots) + r")/\w")) == []


def test_no_registry_address() -> None:
    """No file ties the set-up to one registry's address, so a mirror serves as well."""
    hosts = (
        "py" + "pi.org",
        "python" + "hosted.org",
        "npm" + "js.org",
        "npm" + "js.com",
        "deb.debian" + ".org",
    )
    assert hits(re.compile("|".join(re.escape(h) for h in hosts))) == []


def test_pages_load_nothing_from_outside() -> None:
    """No page, style or script names an address outside this machine, but for the names of the W3C's namespaces."""
    outside = re.compile(
        r"""https?://(?!www\.w3\.org/|127\.0\.0\.1|localhost)[\w.-]+|["'(=]\s*//[\w-]+\.[\w.-]+"""
    )
    assert hits(outside, ".html", ".js", ".css", ".svg", ".jinja", ".j2", inside=PACKAGE) == []


def test_vendored_scripts_are_whole_and_licensed() -> None:
    """Each script that is not ours lies beside its licence and names no outside address either."""
    static = PACKAGE / "web" / "static"
    htmx = (static / "htmx.min.js").read_text(encoding="utf-8")
    assert "http:" + "//" not in htmx
    assert "https:" + "//" not in htmx
    assert 'version:"2.0.' in htmx
    assert "Zero-Clause BSD" in (static / "htmx.LICENSE.txt").read_text(encoding="utf-8")
    vendor = ROOT / "tests" / "vendor"
    assert (vendor / "axe.min.js").read_text(encoding="utf-8").startswith("/*! axe v4.")
    assert "Mozilla Public License" in (vendor / "axe.LICENSE.txt").read_text(encoding="utf-8")


def test_every_module_says_what_it_is_for() -> None:
    """Every module of the package starts with a docstring."""
    bare = [
        str(path.relative_to(ROOT))
        for path in sorted(PACKAGE.rglob("*.py"))
        if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert bare == []


def test_import_is_light() -> None:
    """`import sparewatt` loads none of the heavy libraries."""
    loaded = fresh(f"import sparewatt, sys; print(*[m for m in {HEAVY!r} if m in sys.modules])")
    assert loaded == ""


def test_public_names_are_listed_by_hand() -> None:
    """`__all__` names exactly the public things of the package, each of which is there."""
    public = fresh(
        "import sparewatt; print(*sorted(n for n in vars(sparewatt) if not n.startswith('_')))"
    ).split()
    listed = [name for name in sparewatt.__all__ if not name.startswith("_")]
    assert sorted(listed) == public
    assert all(hasattr(sparewatt, name) for name in sparewatt.__all__)


def test_version_stands_in_the_changelog() -> None:
    """The version in the package has its section in the changelog."""
    log = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert f"## {sparewatt.__version__}" in log


def test_lock_covers_what_the_package_needs() -> None:
    """Every direct requirement is in the lock, every entry has its hash, and no entry names where it comes from."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [*project["project"]["dependencies"], *project["dependency-groups"]["dev"]]
    lock = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    entries = re.split(r"\n(?=[a-z0-9])", "\n" + lock)[1:]
    locked = {entry.split("==")[0] for entry in entries if "==" in entry.splitlines()[0]}
    assert {re.split(r"[<>=~! ;\[]", need)[0].lower() for need in wanted} <= locked
    assert [entry.splitlines()[0] for entry in entries if "--hash=sha256:" not in entry] == []
    assert "://" not in lock
    assert "--index" not in lock


@pytest.mark.parametrize("face", FACES)
def test_letters_are_shipped_for_page_and_print(face: str) -> None:
    """Each face is there twice, for print and for the page, in the right kind of file."""
    stem = FONTS / f"AtkinsonHyperlegibleNext-{face}"
    assert (
        stem.with_suffix(".ttf").read_bytes()[:4] == b"\x00\x01\x00\x00"
    )  # OpenType spec, sfnt version of TrueType outlines
    assert stem.with_suffix(".woff2").read_bytes()[:4] == b"wOF2"  # W3C WOFF 2.0, signature


def test_letters_keep_their_licence() -> None:
    """The open licence of the letters lies beside them."""
    assert "SIL OPEN FONT LICENSE Version 1.1" in (FONTS / "OFL.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("face", FACES)
def test_zero_is_slashed(face: str, tmp_path: Path) -> None:
    """The printed zero is drawn with three outlines (rim and two halves of the hole), a capital O with two."""
    (tmp_path / "fonts").mkdir()
    shutil.copy(FONTS / f"AtkinsonHyperlegibleNext-{face}.ttf", tmp_path / "fonts")
    style = "italic" if "Italic" in face else "normal"
    weight = "bold" if "Bold" in face else "regular"

    def outlines(letter: str) -> int:
        page = tmp_path / "page.typ"
        page.write_text(
            f'#set text(font: "Atkinson Hyperlegible Next", style: "{style}", weight: "{weight}", fallback: false)\n'
            f"#set page(width: 20mm, height: 20mm)\n{letter}\n",
            encoding="utf-8",
        )
        svg = typst.compile(page, format="svg", font_paths=[tmp_path / "fonts"], ignore_system_fonts=True)
        glyph = re.search(rb'<symbol[^>]*>\s*<path d="([^"]*)"', svg)
        assert glyph, "the letter was not drawn"
        return len(re.findall(rb"[Zz]", glyph.group(1)))

    assert (outlines("0"), outlines("O")) == (3, 2)


def test_check_values_have_one_id_and_a_source_each() -> None:
    """The published check values say where they come from, file and row."""
    with (ROOT / "tests" / "reference" / "checks.csv").open(encoding="utf-8", newline="") as file:
        assert file.readline().startswith("# ")
        rows = list(csv.DictReader(file))
    assert len(rows) > 100
    assert len({row["id"] for row in rows}) == len(rows)
    assert [row["id"] for row in rows if not row["source"].strip()] == []


def test_a_skipped_test_fails_the_run(tmp_path: Path) -> None:
    """A run whose only test is skipped ends as failed."""
    shutil.copy(ROOT / "tests" / "conftest.py", tmp_path)
    (tmp_path / "test_one.py").write_text("import pytest\n\ndef test_one():\n    pytest.skip('not today')\n")
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-p",
        "no:cacheprovider",
        "--rootdir",
        str(tmp_path),
        str(tmp_path),
    ]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 1, done.stdout + done.stderr
    assert "1 skipped" in done.stdout


def test_missing_programs_are_named(tmp_path: Path) -> None:
    """Where nothing can install them, the missing programs are named and the command says no; what is there is not named."""
    shell = shutil.which("sh")
    assert shell
    (tmp_path / "here").write_text("#!/bin/sh\n")
    (tmp_path / "here").chmod(0o755)
    command = [shell, str(ROOT / "scripts" / "need.sh"), "here:package-a", "gone:package-b"]
    done = subprocess.run(
        command, env={"PATH": str(tmp_path)}, capture_output=True, text=True, timeout=30, check=False
    )
    assert done.returncode == 1
    assert "gone" in done.stderr
    assert "here" not in done.stderr
    done = subprocess.run(
        command[:3], env={"PATH": str(tmp_path)}, capture_output=True, text=True, timeout=30, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_every_make_word_in_the_pages_exists() -> None:
    """Each `make WORD` that a page names is a target of the Makefile."""
    targets = set(re.findall(r"(?m)^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8")))
    named = {
        (str(path.relative_to(ROOT)), word)
        for path in our_files(".md")
        for word in re.findall(r"`make ([a-z]+)", path.read_text(encoding="utf-8"))
    }
    assert named
    assert {(page, word) for page, word in named if word not in targets} == set()


def test_every_link_between_pages_leads_somewhere() -> None:
    """Each relative link in a page points at a file that is there, and every decision is listed."""
    dead = []
    for path in our_files(".md"):
        for link in re.findall(r"\]\(([^)#\s]+)", path.read_text(encoding="utf-8")):
            if "://" not in link and not link.startswith("mailto:") and not (path.parent / link).exists():
                dead.append(f"{path.relative_to(ROOT)}: {link}")
    assert dead == []
    decisions = ROOT / "docs" / "decisions"
    listed = re.findall(r"\((\d{4}-[\w-]+\.md)\)", (decisions / "README.md").read_text(encoding="utf-8"))
    assert sorted(listed) == sorted(path.name for path in decisions.glob("[0-9]*.md"))
