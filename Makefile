# make demo   sets everything up and runs the whole chain on the invented programme
# make test   sets everything up and runs every check (.ci/run runs this)
# make help   lists the rest
SHELL := bash
.SHELLFLAGS := -euo pipefail -c
.DELETE_ON_ERROR:
.DEFAULT_GOAL := help

PYTHON ?= python3
ARGS ?=
UV ?= uv

VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check --no-input
LOCKED := $(PIP) --require-hashes --only-binary :all:
# An environment holds absolute paths: a copied tree must not run the code of the tree it came from.
HERE := $(shell pwd | cksum | cut -d' ' -f1)
MADE := $(VENV)/made-at-$(HERE)
RUNTIME := $(VENV)/runtime-at-$(HERE)
DEV := $(VENV)/dev-at-$(HERE)
LOCKS := requirements/runtime.txt requirements/build.txt

.PHONY: help setup demo test quick docs gallery bench rule lint system lock clean

help:
	@echo "make demo [ARGS=...]   set everything up, then lapwright demo"
	@echo "make test              set everything up, then every check"
	@echo "make setup             the environment for working on the code"
	@echo "make quick             unit and repository tests, under 20 s"
	@echo "make lint              format, lint, types, import directions"
	@echo "make docs              the pages, warnings are errors"
	@echo "make gallery           the drawn examples of the pages, drawn and read anew"
	@echo "make bench             times and sizes, measured side by side"
	@echo "make rule CODE=... EDITION=... ID=...   a rule skeleton and its case"
	@echo "make lock UV=...       resolve the requirements anew (needs uv)"
	@echo "make clean             remove what make made"

# ---------------------------------------------------------------- setting up
$(MADE):
	@scripts/system_packages.sh python "$(PYTHON)"
	@echo "Making $(VENV)"
	@"$(PYTHON)" -m venv --clear $(VENV)
	@touch $@

$(RUNTIME): $(MADE) $(LOCKS) pyproject.toml src/lapwright/__init__.py
	@echo "Installing the runtime packages"
	@$(LOCKED) -r requirements/build.txt
	@$(LOCKED) -r requirements/runtime.txt
	@$(PIP) --no-deps --no-build-isolation --editable .
	@touch $@

$(DEV): $(RUNTIME) requirements/dev.txt
	@echo "Installing the packages of the checks"
	@$(LOCKED) -r requirements/dev.txt
	@touch $@

system:
	@scripts/system_packages.sh tests

setup: $(DEV)

demo: $(RUNTIME)
	@$(BIN)/lapwright demo $(ARGS)

# ---------------------------------------------------------------- checking
lint: setup
	$(BIN)/ruff format --check --output-format concise .
	$(BIN)/ruff check .
	$(BIN)/mypy --strict src
	$(BIN)/lint-imports --no-cache

docs: setup
	$(BIN)/python -m sphinx -q -W --keep-going -b html docs docs/_build/html

# Pictures, records and figures of the pages; they fail the tests once the method has moved on.
gallery: setup
	$(BIN)/python scripts/gallery.py
	$(BIN)/python scripts/limits.py
	$(BIN)/python scripts/photo_drawings.py

quick: setup
	$(BIN)/python -m pytest -q tests/unit tests/repo

# The tests come last, so that their summary is the last line.
test: setup system lint docs
	$(BIN)/python -m pytest --cov --cov-report=term tests

bench: setup
	$(BIN)/python benchmarks/run.py $(ARGS)

# ---------------------------------------------------------------- making
rule: setup
	$(BIN)/python scripts/new_rule.py --code "$(CODE)" --edition "$(EDITION)" --id "$(ID)"

RESOLVE := pip compile --quiet --universal --generate-hashes --no-header --python-version 3.11
lock:
	$(UV) $(RESOLVE) requirements/build.in -o requirements/build.txt
	$(UV) $(RESOLVE) requirements/runtime.in -o requirements/runtime.txt
	$(UV) $(RESOLVE) requirements/dev.in -o requirements/dev.txt

clean:
	rm -rf $(VENV) build dist docs/_build .mypy_cache .pytest_cache .ruff_cache .hypothesis .coverage
	rm -rf .import_linter_cache src/lapwright.egg-info
