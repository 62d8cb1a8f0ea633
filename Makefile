# `make demo` and `make test` need only Python 3.11 or later (with venv), make and git.
PYTHON ?= python3
VENV   ?= .venv
BIN    := $(VENV)/bin
STAMP  := $(VENV)/.ready
THREADS := OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1

.PHONY: demo test lint types bench docs lock wheel clean

demo: $(STAMP)
	$(BIN)/levelbook demo --out out/demo

test: $(STAMP)
	$(THREADS) $(BIN)/python tools/run_tests.py

lint: $(STAMP)
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .

types: $(STAMP)
	$(BIN)/mypy

bench: $(STAMP)
	$(BIN)/uv pip install -q --python $(BIN)/python -r requirements/bench.lock
	$(THREADS) $(BIN)/python bench/run.py

docs: $(STAMP)
	$(BIN)/python tools/make_docs.py

wheel: $(STAMP)
	$(BIN)/uv build --wheel --out-dir dist .

# Renew the lock files after pyproject.toml has changed.
lock: $(STAMP)
	$(BIN)/python tools/lock.py

$(STAMP): pyproject.toml requirements/dev.lock
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or later is needed: set PYTHON=python3.x"; exit 1; }
	@$(PYTHON) -m venv $(VENV) || { echo "Python's venv module is missing: install it (on Debian: apt-get install python3-venv)"; exit 1; }
	$(BIN)/python -m pip install -q --disable-pip-version-check uv
	$(BIN)/uv pip sync -q --python $(BIN)/python requirements/dev.lock
	$(BIN)/python -m pip install -q --disable-pip-version-check uv
	$(BIN)/uv pip install -q --python $(BIN)/python --no-deps -e .
	@touch $(STAMP)

clean:
	rm -rf $(VENV) build dist out
