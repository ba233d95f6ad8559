# Every target creates the environment it needs; `make help` lists them.
.DEFAULT_GOAL := help
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# One thread per process: the work is spread by processes, and sums of BLAS keep their order.
export OMP_NUM_THREADS := 1
export OPENBLAS_NUM_THREADS := 1
# Random designs of each architecture that `validate` compares with the stiff solver.
DESIGNS ?= 8
# How long `torture` lasts.
MINUTES ?= 10

READY := $(VENV)/.ready

$(READY): pyproject.toml constraints.txt
	$(PYTHON) -m venv $(VENV)
	rm -rf build $(VENV)/lib/python3*/site-packages/boilerfront
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint constraints.txt --editable '.[develop]'
	touch $(READY)

.PHONY: help
help: ## list the targets
	@grep -E '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed 's/:.*## /\t/' | expand -t 16

.PHONY: setup
setup: $(READY) ## create the environment in .venv and install

.PHONY: demo
demo: $(READY) ## run a real sweep and show its front
	$(BIN)/python -m boilerfront.jobs.demo

.PHONY: test
test: $(READY) ## all quick tests
	$(BIN)/python -m pytest -q

.PHONY: check
check: $(READY) ## lint, format, types, floors
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

.PHONY: test-slow
test-slow: $(READY) ## marked slow tests: kernel without the compiler, real clusters, a browser; each fault once; validate
	$(BIN)/python -m pytest -q -rs -m slow
	$(BIN)/python -m tests.torture --minutes 0.5
	$(BIN)/python -m tests.validate --designs $(DESIGNS) --brief

.PHONY: torture
torture: $(READY) ## ten minutes of faults of disk and processes, as one table; MINUTES=1 is shorter
	$(BIN)/python -m tests.torture --minutes $(MINUTES)

.PHONY: validate
validate: $(READY) ## published values, convergence, stiff solver, balances as one table; DESIGNS=200 is the full proof
	$(BIN)/python -m tests.validate --designs $(DESIGNS)

.PHONY: bench
bench: $(READY) ## ratios of speed and of search quality, measured side by side
	$(BIN)/python -m tests.bench

.PHONY: bench-full
bench-full: $(READY) ## search against its peers on untouched problems to 10,000; many hours, goes on where it was
	$(BIN)/python -m tests.bench.bench_search_full
