# Rollsound. `make demo` and `make test` are all a new machine needs (Python 3.11 or newer, and make).
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
ifeq ($(OS),Windows_NT)
BIN := $(VENV)/Scripts
endif
STAMP := $(VENV)/.ready
# Both cores, and a third worker while one waits for a browser; files in the order of their names, so that the few long ones do not come last on one core alone.
SPREAD := -n 3 --dist loadfile --no-loadscope-reorder

.PHONY: demo test check bench sources docs screens soak fuzz clean format

$(STAMP): pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -e ".[dev]"
	$(BIN)/python -c "import pathlib; pathlib.Path('$(STAMP)').touch()"

demo: $(STAMP)
	$(BIN)/rollsound demo out/

test: $(STAMP)
	$(BIN)/python scripts/oracles.py
	$(BIN)/python -m pytest $(SPREAD)

check: $(STAMP)
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python -m pytest $(SPREAD)

format: $(STAMP)
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

bench: $(STAMP)
	$(BIN)/python -m benchmarks

sources: $(STAMP)
	$(BIN)/python scripts/sources.py

docs: $(STAMP)
	$(BIN)/python scripts/docs.py
	$(BIN)/python scripts/sources.py --write

screens: $(STAMP)
	$(BIN)/python scripts/screens.py
	$(BIN)/python scripts/screens_web.py

soak: $(STAMP)
	$(BIN)/python -m pytest -m soak -n 2
	$(BIN)/python -m pytest --deep -n 2 tests/show/test_text_laws.py tests/log/test_changes_laws.py

fuzz: $(STAMP)
	$(BIN)/python -m pytest -m fuzz

clean:
	$(PYTHON) -c "import shutil; shutil.rmtree('out', ignore_errors=True)"
