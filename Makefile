# One word for each thing to do. Needs Python 3.11 or newer and make; all else is installed into .venv.
SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help

BIN := .venv/bin
# The folders that hold Python by now.
CODE := $(strip $(foreach folder,src tests bench fuzz tools,$(if $(shell find $(folder) -name '*.py' 2> /dev/null),$(folder))))
PYTEST_ARGS ?= -n 2
export PYTHON

.NOTPARALLEL: # setup and setup-dev write to the same .venv
.PHONY: help setup setup-dev demo test lint bench fuzz sbom screens docs lock serve clean

help: ## say what each word does
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "  make %-10s %s\n", $$1, $$2 }' $(MAKEFILE_LIST)

setup: .venv/.run-installed ## install what running needs, as locked, into .venv

setup-dev: .venv/.dev-installed ## install also what tests, checks and benchmarks need

.venv/.run-installed: requirements/run.txt pyproject.toml tools/venv.sh
	@tools/venv.sh run
	@touch $@

.venv/.dev-installed: requirements/dev.txt pyproject.toml tools/venv.sh
	@tools/venv.sh dev
	@touch $@ .venv/.run-installed

demo: setup ## plan the demo house and write its papers to out/
	@$(BIN)/python -m subbase.cli plan examples/02-four-conductors-all-used.yaml --out out

test: setup-dev lint ## check the code, then run every test
	@tools/system-packages.sh
	@tools/browser-packages.sh
	@tools/pocket-packages.sh
	$(BIN)/python -m pytest $(PYTEST_ARGS)

lint: setup-dev ## check style, types and which module may import which
	$(BIN)/ruff check $(CODE)
	$(BIN)/ruff format --check $(CODE)
	$(BIN)/mypy $(CODE)
	$(BIN)/lint-imports
	$(BIN)/python -m tools.messages --check
	$(BIN)/python -m tools.glossary --check

bench: setup-dev ## measure speed
	$(BIN)/python -m bench

fuzz: setup-dev ## feed every reader broken files, MINUTES=1 of each
	$(BIN)/python -m pip install -qq --disable-pip-version-check --require-hashes --only-binary :all: -r requirements/fuzz.txt
	$(BIN)/python -m fuzz --minutes $(or $(MINUTES),1)

sbom: setup-dev ## write a bill of materials (CycloneDX) to out/
	$(BIN)/python -m tools.sbom

screens: setup-dev ## make the pictures of the app in the docs anew
	SUBBASE_SCREENS=make $(BIN)/python -m pytest -q tests/browser/test_screenshots.py -k shows

docs: setup-dev ## write docs/validation.md and the reference pages from the code
	$(BIN)/python -m tools.docs

lock: ## write requirements/*.txt anew from requirements/*.in (needs uv)
	tools/lock.sh

serve: setup ## serve the app for phone and desk on this machine
	$(BIN)/python -m subbase.cli serve

clean: ## remove everything that was made, .venv and out/ included
	rm -rf .venv out build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache src/*.egg-info
	find src tests bench fuzz tools -type d -name __pycache__ -prune -exec rm -rf {} + 2> /dev/null || true
