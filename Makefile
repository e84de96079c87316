# Every target makes .venv on first use, with nothing but python3 (3.11 to 3.13), its venv module and make.
#   make demo ARGS="--hands-off --speed 300 --until-complete"
#   make test ARGS="tests/core -k stale"      PYTHON=/path/to/python3 chooses another interpreter
PYTHON ?= python3
VENV ?= .venv
ARGS ?=

BIN := $(VENV)/bin
RUN_STAMP := $(VENV)/run.stamp
TEST_STAMP := $(VENV)/test.stamp
PIP_INSTALL := $(BIN)/python -m pip install --quiet --no-input --disable-pip-version-check
UV_COMPILE := $(BIN)/uv pip compile pyproject.toml --quiet --no-config --universal --python-version 3.11 \
	--generate-hashes --no-header --no-annotate --no-emit-index-url --no-emit-find-links --group

SUITABLE := 3.11 3.12 3.13
found = $(shell $(PYTHON) -c 'import sys; print("%d.%d" % sys.version_info[:2])' 2>/dev/null)
has_venv = $(shell $(PYTHON) -c 'import ensurepip, venv' 2>/dev/null && echo yes)

# Else every start compiles all of it again.
unexport PYTHONDONTWRITEBYTECODE

.DELETE_ON_ERROR:
.PHONY: demo test check bench campaign pictures lock clean

demo: $(RUN_STAMP)
	@$(BIN)/kettlebridge demo $(ARGS)

test: $(TEST_STAMP)
	@$(BIN)/python -m pytest $(or $(ARGS),--numprocesses=auto --dist=loadfile)

check: $(TEST_STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(TEST_STAMP)
	@$(BIN)/python tests/benchmarks/run.py $(ARGS)

pictures: $(TEST_STAMP)
	@$(BIN)/python -m tests.pictures

campaign: $(TEST_STAMP)
	@$(BIN)/python -m tests.campaign.run $(ARGS)

# Keeps every pin that still fits; ARGS=--upgrade takes the newest of all.
lock: $(BIN)/python
	$(PIP_INSTALL) uv
	$(UV_COMPILE) build $(ARGS) --output-file config/locks/run.txt
	$(UV_COMPILE) test $(ARGS) --constraints config/locks/run.txt --output-file config/locks/test.txt

clean:
	rm -rf $(VENV) build dist .hypothesis .import_linter_cache .mypy_cache .pytest_cache .ruff_cache
	find service simulator tests -name __pycache__ -prune -exec rm -rf {} +

# An environment that was half made, or whose interpreter has gone, is made afresh.
ifeq ($(shell $(BIN)/python -c 'import pip' 2>/dev/null && echo whole),)
.PHONY: $(BIN)/python $(RUN_STAMP) $(TEST_STAMP)
endif

# An interpreter that will not do is one line, and exit code 2.
$(BIN)/python:
	$(if $(found),,$(error PYTHON=$(PYTHON) does not run; choose a Python 3.11 to 3.13 with PYTHON=/path/to/python3))
	$(if $(filter $(SUITABLE),$(found)),,$(error $(PYTHON) is Python $(found); choose a Python 3.11 to 3.13 with PYTHON=/path/to/python3))
	$(if $(has_venv),,$(error $(PYTHON) lacks its venv module; install it (on Debian: apt install python3-venv) or choose another with PYTHON=/path/to/python3))
	@echo "Making $(VENV) with $(PYTHON) $(found), once; this takes a minute."
	@$(PYTHON) -m venv --clear $(VENV)

$(RUN_STAMP): config/locks/run.txt pyproject.toml | $(BIN)/python
	@$(PIP_INSTALL) --require-hashes --requirement config/locks/run.txt
	@$(PIP_INSTALL) --no-deps --no-build-isolation --editable .
	@touch $@

$(TEST_STAMP): config/locks/test.txt $(RUN_STAMP)
	@$(PIP_INSTALL) --require-hashes --requirement config/locks/test.txt
	@touch $@
