# make demo   sets up and debriefs a sample track
# make test   sets up and runs the tests
# make trials runs the long ones: ensembles, figures printed again
# make lint   ruff and mypy
# make docs   guides and reference as HTML
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
OUT := out
SAMPLE := first_light

export OPENBLAS_NUM_THREADS ?= 1
# compiled modules are kept: the tests start hundreds of processes
unexport PYTHONDONTWRITEBYTECODE
export PIP_DISABLE_PIP_VERSION_CHECK = 1

.PHONY: demo docs test trials mutants fuzz oldest versions lint notebooks format wheel samples benchmark clean setup setup-test setup-lint

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "crabline needs Python 3.11 or newer; try: make PYTHON=python3.12 $(MAKECMDGOALS)"; exit 1; }
	@$(PYTHON) -m venv $(VENV) || { rm -rf $(VENV); echo "no venv module; try: apt-get install python3-venv"; exit 1; }

$(VENV)/.run: pyproject.toml | $(BIN)/python
	$(BIN)/pip install --quiet -e .
	@touch $@

$(VENV)/.test: pyproject.toml | $(BIN)/python
	$(BIN)/pip install --quiet -e '.[test]'
	@touch $@ $(VENV)/.run

$(VENV)/.lint: pyproject.toml | $(BIN)/python
	$(BIN)/pip install --quiet -e '.[test,lint]'
	@touch $@ $(VENV)/.test $(VENV)/.run

$(VENV)/.docs: pyproject.toml | $(BIN)/python
	$(BIN)/pip install --quiet -e '.[docs]'
	@touch $@ $(VENV)/.run

setup: $(VENV)/.run
setup-test: $(VENV)/.test
setup-lint: $(VENV)/.lint

demo: $(VENV)/.run
	@mkdir -p $(OUT)
	$(BIN)/crabline debrief sample_tracks/$(SAMPLE).gpx --plan shared/plans/$(SAMPLE).toml --json $(OUT)/demo.json --html $(OUT)/demo.html
	@echo "page: $(OUT)/demo.html   data: $(OUT)/demo.json"

test: $(VENV)/.test
	$(BIN)/python -m pytest -n 3 --dist worksteal -m "not slow" $(PYTEST_ARGS)

# trials of many jumps, long searches, and figures of the documents printed again
trials: $(VENV)/.test
	$(BIN)/python -m pytest -n 3 --dist worksteal -m slow $(PYTEST_ARGS)

lint: $(VENV)/.lint
	$(BIN)/ruff check analyser tests benchmarks
	$(BIN)/ruff format --check analyser tests benchmarks
	$(BIN)/mypy

notebooks: $(VENV)/.test
	PLOTLY_RENDERER=png $(BIN)/jupyter execute --inplace notebooks/*.ipynb

format: $(VENV)/.lint
	$(BIN)/ruff check --fix analyser tests benchmarks
	$(BIN)/ruff format analyser tests benchmarks

# the guides, the reference of the public names and of the commands, as HTML; a warning is an error
docs: $(VENV)/.docs
	$(BIN)/python -m sphinx -W --keep-going -q -b html docs build/docs
	@echo "docs: build/docs/index.html"

wheel: $(VENV)/.test
	rm -rf dist build/wheel-venv
	$(BIN)/pip install --quiet build
	$(BIN)/python -m build --outdir dist .
	$(PYTHON) -m venv build/wheel-venv
	build/wheel-venv/bin/pip install --quiet dist/*.whl
	cd build && wheel-venv/bin/crabline --version && wheel-venv/bin/crabline sample > /dev/null

# the oldest releases promised in pyproject.toml, in an environment of their own
oldest:
	$(PYTHON) -m venv build/oldest-venv
	build/oldest-venv/bin/pip install --quiet -c tests/oldest.txt . pytest hypothesis jsonschema geographiclib circle-fit ambiance fitdecode==0.10.0 pyarrow==16.1.0
	build/oldest-venv/bin/python -m pytest -q -p no:cacheprovider tests/test_foundations.py tests/importers/test_fit.py tests/importers/test_gpx.py tests/plan/test_draw.py tests/report/test_document.py tests/report/test_html.py tests/cli/test_cli.py tests/logbook/test_export.py

# single mistakes in the science, documents and sentences: how many do the tests of their own folder notice?
MUTANTS ?= 200
LEAST ?= 92
mutants: $(VENV)/.test
	$(BIN)/python tests/mutants/run.py --sample $(MUTANTS) --least $(LEAST)

# spoilt tracks, plans, tables, reports and logbooks, in minutes of CPU; prints the table of docs/robustness.md
MINUTES ?= 20
SEED ?= 1
fuzz: $(VENV)/.test
	$(BIN)/python tests/fuzz/all.py --minutes $(MINUTES) --seed $(SEED)

# the newer Pythons promised in pyproject.toml, each where the machine has it; VERSIONS="3.13" for one
versions:
	@bash .ci/versions $(or $(VERSIONS),3.12 3.13)

clean:
	rm -rf build dist $(OUT) .pytest_cache .mypy_cache .ruff_cache
