# What one types here. `make help` lists it.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
DEMO_STORE ?= demo-store

.PHONY: help demo test test-all checks published bench-ingest bench-ratio bench-growth bench-thirty-days bench-judge bench-trends \
	bench-api prove-arrival prove-judging prove-work prove-api clean

help:  ## list the targets
	@grep -E '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 20

$(BIN)/python:
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade pip

$(VENV)/.installed: $(BIN)/python pyproject.toml
	$(BIN)/python -m pip install --quiet --editable .
	@touch $@

$(VENV)/.installed-test: $(BIN)/python pyproject.toml
	$(BIN)/python -m pip install --quiet --editable '.[test]'
	@touch $@ $(VENV)/.installed

demo: $(VENV)/.installed  ## install, run the main job on the invented examples, show the result
	@rm -rf $(DEMO_STORE)
	$(BIN)/mcw demo --home $(DEMO_STORE)

test: checks  ## install what the tests need, run all checks; a few long proofs are left to test-all
	$(BIN)/pytest -n 3 -m "not slow"

test-all: checks  ## as test, with the long proofs
	$(BIN)/pytest -n 3

checks: $(VENV)/.installed-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

published: $(VENV)/.installed-test  ## write the published schemas again
	$(BIN)/python -m schemas.publishing
	$(BIN)/python -m api.openapi

bench-ingest: bench-ratio bench-growth bench-thirty-days  ## all three, some twelve minutes

bench-ratio: $(VENV)/.installed-test  ## our whole pipeline against a bare copy of the same files
	$(BIN)/python -m tests.benchmarks.ingest

bench-growth: $(VENV)/.installed-test  ## one package in a store of 1, 10, 100 million readings
	$(BIN)/python -m tests.benchmarks.growth

bench-thirty-days: $(VENV)/.installed-test  ## a commit a minute, on day one and day thirty
	$(BIN)/python -m tests.benchmarks.thirty_days

bench-judge: $(VENV)/.installed-test  ## judging anew and after 10,000 readings, against a bare daily aggregation
	$(BIN)/python -m tests.benchmarks.judging

bench-trends: $(VENV)/.installed-test  ## the trends of a fleet against a bare daily aggregation
	$(BIN)/python -m tests.benchmarks.trends

prove-judging: $(VENV)/.installed-test  ## replay invented failures through the judge, some 20 minutes
	$(BIN)/python -m tests.proofs.judging.prove

prove-work: $(VENV)/.installed-test  ## ten thousand random sequences of changes, actions and maintenance
	$(BIN)/python -m tests.proofs.work.prove

prove-api: $(VENV)/.installed-test  ## fuzz the HTTP API, try to get out of sites and SQL, kill it while it receives
	$(BIN)/python -m tests.proofs.api.prove

bench-api: $(VENV)/.installed-test  ## conditions, exports and ingest over HTTP as ratios
	$(BIN)/python -m tests.benchmarks.api

clean:  ## remove the virtual environment and the demo's store
	rm -rf $(VENV) $(DEMO_STORE)

prove-arrival: $(VENV)/.installed-test  ## kill it anywhere, start again, compare with a plain model
	$(BIN)/python -m tests.proofs.arrival.prove
