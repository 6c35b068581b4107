# Two commands: `make run` and `make test`. On Windows see "Windows" in README.md: the same steps, without make.
PYTHON ?= python3
VENV   ?= .venv
DEMO   ?= .demo
BUNDLE ?= bundle
BIN    := $(VENV)/bin
PIP    := $(BIN)/python -m pip --disable-pip-version-check --no-input
# uv only writes the locks (seconds instead of minutes); installing is plain pip.
COMPILE = $(BIN)/uv pip compile -q pyproject.toml --universal --generate-hashes --python-version 3.11 --no-header

.DEFAULT_GOAL := help
.PHONY: help run demo env dev test explore check format bench lock docs bundle clean

help: ## this list
	@grep -hE '^[a-z]+:.*##' Makefile | sort | awk -F ':.*## ' '{printf "  make %-8s %s\n", $$1, $$2}'

run: env $(DEMO) ## environment, demo home, serve on this machine only, open and print the address
	@$(BIN)/asfound serve --home $(DEMO) --open

$(DEMO): | $(VENV)/run.stamp
	$(BIN)/asfound demo $(DEMO)

# The environment is made when it is missing or when a lock is newer than what was last installed.
env: $(VENV)/run.stamp
dev: $(VENV)/dev.stamp

$(VENV)/run.stamp: requirements.lock
	@PYTHON="$(PYTHON)" VENV="$(VENV)" .ci/environment requirements.lock
	@touch $@

$(VENV)/dev.stamp: requirements-dev.lock requirements.lock
	@PYTHON="$(PYTHON)" VENV="$(VENV)" .ci/environment requirements-dev.lock
	@touch $@ $(VENV)/run.stamp

test: dev ## all tests, two at a time
	$(BIN)/python -m pytest -n 2 --dist loadgroup --doctest-modules $(TESTS)

explore: dev ## the laws again, with many examples that no run has seen (slow)
	ASFOUND_EXAMPLES=explore $(BIN)/python -m pytest -n 2 --dist loadgroup $(TESTS)

check: dev ## format, lint, strict types, the floors of the house, no registry named
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python .ci/no_hosts.py

format: dev ## write the format that `make check` asks for
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

bench: dev ## every benchmark, with ratios taken in one run (benchmarks/README.md)
	$(BIN)/python -m benchmarks $(ARGS)

lock: dev ## write both lock files anew
	$(COMPILE) --group build -o requirements.lock
	$(COMPILE) --extra postgres --extra share --extra lock --extra fleet --extra s3 --extra live --extra notebook --group dev -o requirements-dev.lock

docs: dev ## the documentation as pages that need no network, in build/docs
	$(BIN)/mkdocs build --strict --quiet
	@echo build/docs/index.html

bundle: env ## a folder of wheels that installs with no network (BUNDLE=folder)
	@BIN="$(BIN)" .ci/bundle "$(BUNDLE)" $(FOR)

clean: ## remove the environment, the demo home and everything made
	rm -rf $(VENV) $(DEMO) bundle dist build .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache .benchmarks
