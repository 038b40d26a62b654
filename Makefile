# Everything a person or a build machine does here, by one word each: setup, run, test, check, bench, docs, lock.
PY ?= python3
B  := .venv/bin

.PHONY: setup needs run test lint check bench docs lock clean

setup: .venv/.ok

.venv/.ok: requirements.lock pyproject.toml
	@$(PY) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Sparewatt needs Python 3.11 or later; try: make setup PY=python3.12"; exit 1; }
	$(PY) -m venv .venv
	$(B)/python -m pip install -q --disable-pip-version-check --require-hashes -r requirements.lock
	$(B)/python -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .
	$(B)/python -m sparewatt.rig.warm
	@touch $@

# What the tests use beside Python: a browser, a circuit simulator, a PDF reader.
needs:
	@sh scripts/need.sh chromium:chromium ngspice:ngspice pdftoppm:poppler-utils

run: setup
	$(B)/python -m sparewatt open --demo

# Hundreds of programs are started: each would read the whole source again if none might keep its bytecode.
test: setup needs
	PYTHONDONTWRITEBYTECODE= $(B)/python -m pytest -q -n 2 --dist worksteal

lint: setup
	$(B)/ruff check .
	$(B)/ruff format --check .
	$(B)/mypy
	$(B)/lint-imports

check: lint test

bench: setup
	$(B)/python -m benchmarks

docs: setup
	$(B)/python scripts/generate_docs.py

lock: setup
	$(B)/uv pip compile -q --universal --generate-hashes --no-header pyproject.toml --group dev -o requirements.lock

clean:
	rm -rf .venv .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
