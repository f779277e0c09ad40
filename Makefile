# Two commands do everything on a fresh machine: `make demo` and `make test`.
# Needs Python 3.11 to 3.13 with venv, and make.

PYTHON ?= python3
BIN := .venv/bin
REPORT := report/rook

SEEDS ?= 50
# of tests; many wait for real time, not for a core
WORKERS ?= 2

.PHONY: demo test lint bench study long page page-tools kernels clean

demo: .venv/installed  ## check robots/rook and write its report
	$(BIN)/legwright check robots/rook --report $(REPORT)

test: .venv/installed-dev page page-tools kernels  ## the whole test suite
	$(BIN)/python -m pytest -n $(WORKERS) --ignore=tests/page
	$(BIN)/python -m pytest tests/page  # the browser alone needs both cores

lint: .venv/installed-dev page-tools  ## format, docstrings, types, import contract
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	cd page && npm run --silent types

bench: .venv/installed-dev  ## speed: read the ratios, not the seconds
	$(BIN)/python -m pytest benchmarks -o addopts="" --benchmark-only --benchmark-columns=min,median,iqr,rounds

study: .venv/installed  ## walk the campaign of docs/studies.md; goes on where it was stopped
	$(BIN)/python -m legwright.study robots --seeds $(SEEDS)

kernels: .venv/installed  # compiled once, not by every test that starts a process
	$(BIN)/legwright check robots/rook > /dev/null
	$(BIN)/legwright walk robots/rook --distance 0.05 --no-blind > /dev/null
	$(BIN)/legwright round robots/rook --grid R20 --spread 1 > /dev/null

long: .venv/installed-dev  ## tests that take minutes
	$(BIN)/python -m pytest -n $(WORKERS) -m long -o addopts=""

page: .venv/installed  ## the desk's page, where its sources have changed; needs Node.js
	$(BIN)/python page/build_hook.py

page-tools: | .venv/installed  # type checker and accessibility rules, for lint and tests alone
	cd page && { [ -x node_modules/.bin/tsc ] || npm ci --prefer-offline --ignore-scripts; }

clean:
	rm -rf .venv report build dist page/node_modules

.venv/bin/python:
	$(PYTHON) -m venv .venv

.venv/installed: pyproject.toml constraints.txt | .venv/bin/python
	$(BIN)/python -m pip install -q -c constraints.txt -e .
	touch $@

.venv/installed-dev: .venv/installed
	$(BIN)/python -m pip install -q -c constraints.txt -e ".[dev]"
	touch $@
