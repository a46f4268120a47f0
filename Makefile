# Everything a person runs by hand: `make demo` to see it work, `make test` before a change goes in.

PYTHON ?= python3
VENV := .venv
RENDER_VENV := .venv-render
NEWEST_VENV := .venv-newest
LOCK_VENV := .venv-lock
BIN := $(VENV)/bin
PIP := -m pip install --quiet --disable-pip-version-check
# Every package in exactly the locked version; the project itself without looking for more of them.
LOCKED := $(PIP) --require-hashes --requirement
PROJECT := $(PIP) --no-deps --no-build-isolation --editable .
COMPILE := $(LOCK_VENV)/bin/uv pip compile --quiet --universal --python-version 3.10 \
	--generate-hashes --no-emit-index-url --no-annotate --custom-compile-command "make lock"
CLIPS ?=
# One process for each core, and what Python compiled is kept for the next run.
PYTEST := PYTHONDONTWRITEBYTECODE= OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest -n auto \
	--dist loadfile

.PHONY: demo test lint check docs accuracy bench sample-clips lock newest clean

demo: $(VENV)/.installed
	@test -n "$(wildcard sample_clips/*.mp4)" || { echo "sample_clips/ holds no clip: run make sample-clips"; exit 1; }
	$(BIN)/crossemetry analyse sample_clips/*.mp4 --out out
	@echo
	@echo "Open these in a browser:"
	@ls out/*/report.html

test: $(VENV)/.installed-for-work
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(PYTEST)

# The same without what runs the pose model, a browser or a server: for use while writing.
check: $(VENV)/.installed-for-work
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(PYTEST) -m "not slow and not browser and not database and not renderer"

lint: $(VENV)/.installed-for-work
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

# Writes the pages of docs/ that follow from the program, and click's words in other languages.
docs: $(VENV)/.installed-for-work
	$(BIN)/python -m tests.click_words
	$(BIN)/python -m tests.documents

# Against known truth: sample_clips/ and every folder named in CLIPS, e.g. make accuracy CLIPS="a b"
accuracy: $(VENV)/.installed-for-work
	$(BIN)/python -m tests.bench.accuracy sample_clips $(CLIPS)

bench: $(VENV)/.installed-for-work
	$(BIN)/python -m tests.bench.speed

sample-clips: $(RENDER_VENV)/.installed
	$(RENDER_VENV)/bin/python -m sample_clips.render --out sample_clips --set sample

# Writes the lock files anew, with the newest version of each package that pyproject.toml allows.
lock:
	$(PYTHON) -m venv --clear $(LOCK_VENV)
	$(LOCK_VENV)/bin/python $(PIP) uv
	$(COMPILE) --upgrade --extra dev --output-file tests/requirements.lock pyproject.toml
	echo hatchling | $(COMPILE) --constraint tests/requirements.lock \
		--output-file requirements.lock pyproject.toml -

# The tests without the lock files: shows what the newest version of some package breaks.
newest:
	$(PYTHON) -m venv --clear $(NEWEST_VENV)
	$(NEWEST_VENV)/bin/python $(PIP) --editable '.[dev]'
	$(NEWEST_VENV)/bin/python -m pip freeze --exclude-editable
	$(NEWEST_VENV)/bin/python -m pytest -n auto --dist loadfile
	$(NEWEST_VENV)/bin/mypy

clean:
	rm -rf $(VENV) $(RENDER_VENV) $(NEWEST_VENV) $(LOCK_VENV) out dist build .pytest_cache .mypy_cache .ruff_cache .hypothesis

$(VENV)/.made:
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 10) and "Python 3.10 or later is needed, e.g. make PYTHON=python3.11")'
	$(PYTHON) -m venv --clear $(VENV)
	@touch $@

$(VENV)/.installed: $(VENV)/.made requirements.lock pyproject.toml
	$(BIN)/python $(LOCKED) requirements.lock
	$(BIN)/python $(PROJECT)
	@$(BIN)/python -c 'import cv2' || { echo "On Debian or Ubuntu: apt-get install libgl1 libglib2.0-0"; exit 1; }
	@touch $@

$(VENV)/.installed-for-work: $(VENV)/.made tests/requirements.lock pyproject.toml
	$(BIN)/python $(LOCKED) tests/requirements.lock
	$(BIN)/python $(PROJECT)
	@touch $@

$(RENDER_VENV)/.installed: sample_clips/render/requirements.txt
	$(PYTHON) -m venv --clear $(RENDER_VENV)
	$(RENDER_VENV)/bin/python $(PIP) torch==2.13.0
	$(RENDER_VENV)/bin/python $(PIP) --requirement sample_clips/render/requirements.txt
	@touch $@
