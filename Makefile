# Two commands matter: `make run` (the demo shop on this machine) and `make test` (everything).
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
PYTHON := .venv/bin/python
PORT ?= 8000

.PHONY: help
help: ## what can be made
	@grep -E '^[a-z-]+:.*## ' Makefile | sed -E 's/:.*## /|/' | awk -F'|' '{printf "make %-10s %s\n", $$1, $$2}'

# Installed again only when the pinned versions change.
.venv/installed-run: requirements.txt scripts/install.sh
	@scripts/install.sh run

.venv/installed-dev: requirements.txt requirements-dev.txt scripts/install.sh
	@scripts/install.sh dev

.PHONY: run
run: .venv/installed-run ## the demo shop, on http://127.0.0.1:8000 (PORT=... for another port)
	@$(PYTHON) scripts/run.py --port $(PORT)

.PHONY: run-empty
run-empty: .venv/installed-run ## an empty shop, in a database of its own
	@$(PYTHON) scripts/run.py --port $(PORT) --empty

.PHONY: test
test: .venv/installed-dev ## every test: SQLite, PostgreSQL, browser
	@$(PYTHON) scripts/test.py

.PHONY: soak
soak: .venv/installed-dev ## the long tests
	@$(PYTHON) scripts/test.py --soak

.PHONY: lint
lint: .venv/installed-dev ## style, types, templates, direction of imports, missing migrations
	@$(PYTHON) scripts/lint.py

.PHONY: bench
bench: .venv/installed-dev ## measure pages, papers and start beside their floors, SQLite and PostgreSQL (minutes)
	@$(PYTHON) -m scripts.bench

.PHONY: pictures
pictures: .venv/installed-dev ## take the pictures of the documentation anew
	@$(PYTHON) scripts/pictures.py

.PHONY: pins
pins: .venv/installed-dev ## write the pinned requirements from what is installed
	@$(PYTHON) scripts/pin.py

.PHONY: clean
clean: ## take away caches and collected files; databases and keys stay
	rm -rf var/static .mypy_cache .ruff_cache .pytest_cache .import_linter_cache .hypothesis
	find . -name __pycache__ -type d -not -path './.venv/*' -prune -exec rm -rf {} +
