# Each target does the set-up it needs first, and is quick when that is already there.
# Another Python than python3: make test PYTHON=python3.12

PYTHON ?= python3
export PYTHON
BIN := .venv/bin

.DEFAULT_GOAL := help
.NOTPARALLEL:
.PHONY: help setup develop demo test lint regress references bench validation docs links clean

help: ## say what there is to make
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "make %-10s %s\n", $$1, $$2 }' $(MAKEFILE_LIST)

setup: ## install what is missing: .venv, Debian's ngspice library
	@sh .ci/setup.sh

develop: ## install the developers' tools as well
	@sh .ci/setup.sh develop

demo: setup ## run the main job on a demo lamp: a study of its variants
	$(BIN)/coldiron study kerbside-rework

test: ## all that a change must pass: lint, then every test
	@sh .ci/setup.sh test
	@$(MAKE) --no-print-directory lint
	$(BIN)/pytest -n 2 -m "not slow"

lint: develop ## style, layout and types
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy

STUDIES := corridor-recap gallery-taps kerbside-rework landing-mends pantry-sinks shed-half stairwell-valley

regress: setup ## hold the demo lamps against what they gave before (results/reference)
	@status=0; for study in $(STUDIES); do $(BIN)/coldiron regress $$study || status=$$?; done; exit $$status

references: setup ## take what the demo lamps give now as what to hold them against
	@for study in $(STUDIES); do $(BIN)/coldiron regress $$study --accept || exit $$?; done

bench: ## measure: the standard study against plain ngspice runs (about 20 minutes)
	@sh .ci/setup.sh bench
	PYTHONPATH=tests $(BIN)/python -m benchmark.convergence
	PYTHONPATH=tests $(BIN)/python -m benchmark.bench
	PYTHONPATH=tests $(BIN)/python -m benchmark.live

validation: develop ## write results/validation.md: what others measured, and what we read
	PYTHONPATH=tests $(BIN)/python -m validation

docs: ## build the pages of the documentation into results/docs
	@sh .ci/setup.sh docs
	$(BIN)/python -m sphinx -q -W --keep-going -b html runner/docs results/docs
	@echo results/docs/index.html

links: docs ## ask the network whether every link of the pages leads somewhere
	$(BIN)/python -m sphinx -q -b linkcheck runner/docs results/docs/.links

clean: ## remove .venv and every cache; results stay
	rm -rf .venv .mypy_cache .pytest_cache .ruff_cache .hypothesis build dist
	find . -name __pycache__ -prune -exec rm -rf {} +
