# `make demo` and `make test` work on a bare machine with Python 3.11 or newer and make.
PYTHON ?= python3
BIN := .venv/bin
DEMO ?= demo-academy
# What `make test` tries. The gate tries broad tests too: make test MARKED="not benchmark"
MARKED ?= not benchmark and not broad
export PIP_DISABLE_PIP_VERSION_CHECK := 1
# Bytecode is kept: without it every process that is started compiles all that it imports again.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: demo test lock format lint types imports pytest bench predicates faults mutants dictionary pictures clean

demo: .venv/ready
	$(BIN)/speedworth demo $(DEMO)

# Types are checked beside the first tests, which wait for other programs at times.
test: .venv/ready
	$(MAKE) --no-print-directory --jobs 2 lint types imports pytest

# uv takes an eighth of pip's time; where it finds no wheel or no way to the packages, pip goes on by its own settings.
# Of the packages, what is imported is compiled by whoever imports it first, on both cores: pip would compile all of it, on one.
.venv/ready: pyproject.toml constraints.txt
	$(PYTHON) -c 'import sys; sys.exit("speedworth needs Python 3.11 or newer; this is " + sys.version.split()[0] + ". Try: make PYTHON=python3.11") if sys.version_info < (3, 11) else None'
	$(PYTHON) -m venv .venv
	sed -n '/^uv==/,/[^\\]$$/p' constraints.txt > .venv/uv.txt
	$(BIN)/python -m pip install --quiet --no-compile --require-hashes -r .venv/uv.txt && \
	  $(BIN)/uv pip install --quiet --python $(BIN)/python --require-hashes -r constraints.txt || \
	  $(BIN)/python -m pip install --quiet --no-compile --require-hashes -r constraints.txt
	$(BIN)/python -m pip install --quiet --no-deps --no-build-isolation -e .
	$(BIN)/python -m compileall -q pipelines reports schemas warehouse
	touch $@

# Versions stay as they are where pyproject.toml allows it; without the old file, the newest are taken.
lock: .venv/ready
	$(BIN)/uv pip compile pyproject.toml --quiet --extra test --extra mutants --universal --python-version 3.11 --generate-hashes --no-annotate \
	  --no-emit-index-url --no-emit-find-links --no-header -o constraints.txt

format: .venv/ready
	$(BIN)/ruff check --fix --quiet . ; $(BIN)/ruff format .

lint: .venv/ready
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .

types: .venv/ready
	$(BIN)/mypy

imports: .venv/ready
	$(BIN)/lint-imports

# A file goes to one process whole: what its tests share is built once. Three processes on two cores, for one often waits for a browser,
# a server or a disk.
pytest: .venv/ready
	$(BIN)/python -m pytest -n 3 --dist loadfile --no-loadscope-reorder -m "$(MARKED)"

bench: .venv/ready
	$(BIN)/python -m pytest -m benchmark -s tests/benchmarks

# How many changes of each view, mart and audit were made, and how many its example tells from it.
predicates: .venv/ready
	$(BIN)/python -m tests.warehouse.sql_mutant_counts

dictionary: .venv/ready
	$(BIN)/python -m schemas.dictionary > schemas/DICTIONARY.part && mv schemas/DICTIONARY.part schemas/DICTIONARY.md

# Puts in one known fault at a time and says which test finds it.
faults: .venv/ready
	$(BIN)/python -m tests.planted_faults

# Changes the code of the packages that decide, one place at a time, and says what no quick test tells from it. Takes some minutes.
mutants: .venv/ready
	$(BIN)/python -m tests.mutants

# Pictures for README and reports/WALKTHROUGH.md, taken from the demo's pages by Chromium.
pictures: demo
	$(BIN)/python -m tests.browser.take_pictures $(DEMO)

clean:
	rm -rf .venv build dist .mypy_cache .ruff_cache .import_linter_cache
