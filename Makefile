# `make demo` and `make test` need only Python 3.11 or later (with venv), make and git.
PYTHON ?= python3
VENV   ?= .venv
BIN    := $(VENV)/bin
STAMP  := $(VENV)/.ready
PAGES  := hatch_build.py $(shell find web -type f -not -path "*/node_modules/*" -not -path "*/dist/*" -not -path "web/tests/*")
BENCH  := $(VENV)/.bench
THREADS := OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 MKL_NUM_THREADS=1
export PIP_DISABLE_PIP_VERSION_CHECK := 1
export PIP_NO_INPUT := 1
# uv and npm trust what the system trusts: some networks have certificates of their own.
export UV_SYSTEM_CERTS ?= 1
export NODE_USE_SYSTEM_CA ?= 1

.PHONY: demo app test lint types bench docs lock sbom audit wheel clean

demo: $(STAMP)
	@$(BIN)/levelbook demo --out out/demo
	@echo "To work in it: make app"

# The app with the demo house, in the browser; stop it with Ctrl+C.
app: $(STAMP)
	@$(BIN)/levelbook serve --demo --data out/app

test: $(STAMP)
	@$(BIN)/python tools/run_tests.py

lint: $(STAMP)
	@$(BIN)/ruff format --check .
	@$(BIN)/ruff check .

types: $(STAMP)
	@$(BIN)/mypy

bench: $(BENCH)
	@$(THREADS) $(BIN)/python bench/run.py

docs: $(STAMP)
	@$(THREADS) $(BIN)/python tools/make_docs.py

wheel: $(STAMP)
	@rm -rf dist
	@$(BIN)/uv build -q --wheel --out-dir dist .

# What the program is made of (CycloneDX), and whether any of it has a known weakness.
sbom: $(STAMP)
	@$(BIN)/python tools/sbom.py

audit: $(STAMP)
	@$(BIN)/python tools/audit.py

# Renew the lock files after pyproject.toml has changed.
lock: $(STAMP)
	@$(BIN)/python tools/lock.py

$(STAMP): pyproject.toml requirements/dev.lock tools/set_up.sh $(PAGES)
	@VENV="$(VENV)" PYTHON="$(PYTHON)" sh tools/set_up.sh
	@touch $@

$(BENCH): $(STAMP) requirements/bench.lock
	@$(BIN)/uv pip install -q --python $(BIN)/python -r requirements/bench.lock
	@touch $@

clean:
	@rm -rf $(VENV) build dist out
