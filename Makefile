# Two commands matter on a fresh machine: make demo, make test.
# Each sets up what it needs: a virtual environment with hash-pinned libraries, and the
# text-layout library that the PDF reports load (by apt where that is allowed).
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

.PHONY: setup demo serve pictures test long fuzz fuzz-api mutants lint bench bench-large bench-pages docs words schemas vectors constraints clean

setup: $(READY)

$(READY): constraints.txt pyproject.toml .ci/system-packages
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --require-hashes -r constraints.txt
	$(BIN)/pip install --quiet --no-deps --no-build-isolation \
	  --config-settings editable_mode=compat --editable .
	sh .ci/system-packages
	touch $(READY)

# The main job on the invented scenario of sample_shipments/, on embedded SQLite.
demo: $(READY)
	$(BIN)/evenweight demo demo

# The pages of the same scenario, on this machine alone, with a link for each person.
serve: $(READY)
	$(BIN)/evenweight serve --demo

test: lint
	$(BIN)/pytest -n 2 --dist worksteal

# The slow searches: more random steps over all kinds of entry.
long: $(READY)
	$(BIN)/pytest tests/books/test_laws.py tests/books/test_options.py tests/audit/test_portion.py --hypothesis-profile=long

# A search for packs that crash the check or pass it though they were changed; ends by itself.
MINUTES ?= 8
fuzz: $(READY)
	$(BIN)/pip install --quiet --require-hashes -r tests/fuzz/atheris.txt || echo "going on without atheris"
	$(BIN)/python -m tests.fuzz $(MINUTES)

# A longer search for requests that the API answers otherwise than it says: minutes.
fuzz-api: $(READY)
	$(BIN)/pytest tests/web/test_api_described.py --hypothesis-profile=fuzz-api

# Spoil a copy of the books, change by change, and count what no test notices: half an hour.
# One process, nice'd. MODULES="rolling parting" tries all mutants of those modules alone.
MODULES ?=
mutants: $(READY)
	$(BIN)/pip install --quiet mutmut==3.8.1
	nice -n 15 $(BIN)/python -m tests.mutants --again $(MODULES)

lint: $(READY)
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

# Ratios against lower bounds measured in the same run; see docs/reference/benchmarks.md.
bench: $(READY)
	$(BIN)/python -m tests.bench

# A pack of a hundred thousand entries: time against the least it can take, and memory.
bench-large: $(READY)
	$(BIN)/python -m tests.bench.large

# Pages on a ledger of a hundred thousand entries: time against their bare SQL, and size.
bench-pages: $(READY)
	$(BIN)/python -m tests.bench.pages

# Write the parts of the docs that are made from the code.
docs: $(READY)
	$(BIN)/python -m tests.docs.generated

# Add what is said anew to the catalogues of phrases, empty, and take out what is not.
words: $(READY)
	$(BIN)/python -m tests.docs.words

# Write the JSON Schema of every kind of entry to docs/reference/schemas/.
schemas: $(READY)
	$(BIN)/evenweight schemas docs/reference/schemas

# Write packs, notes and texts for other readers of the format to docs/reference/vectors/.
vectors: $(READY)
	$(BIN)/python -m tests.vectors

# Take the pictures of the docs again, with Debian's Chromium.
pictures: $(READY)
	$(BIN)/python -m tests.docs.pictures

# Pin again after a change of dependencies: versions and hashes, no addresses.
constraints: $(READY)
	$(BIN)/pip install --quiet uv
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes \
	  --no-emit-index-url --no-header --no-annotate --extra dev pyproject.toml \
	  -o constraints.txt

clean:
	rm -rf $(VENV) demo build *.egg-info .mypy_cache .ruff_cache .pytest_cache .hypothesis
