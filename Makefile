# Needs python3 (3.11 or newer) and make. Everything else is installed into .venv, checked against its hash.
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
SHELL := /bin/sh
PYTHON ?= python3
PORT ?= 8000
VENV := .venv
PY := $(VENV)/bin/python
DEMO := FANLIGHT_DEMO=1 FANLIGHT_LOG_LEVEL=WARNING
# What a production machine would set: the deployment check must find nothing to say about it.
LIKE_PRODUCTION := FANLIGHT_DEMO=0 FANLIGHT_DATA_DIR=.test FANLIGHT_SITE_URL=https://fanlight.example \
  FANLIGHT_HOSTS=fanlight.example FANLIGHT_SMTP_HOST=mail.example \
  DATABASE_URL=postgresql://fanlight@db.example/fanlight REDIS_URL=redis://broker.example/0 \
  FANLIGHT_KEYS_PASSPHRASE=$$($(PY) -c 'import secrets; print(secrets.token_urlsafe(48))') \
  FANLIGHT_SECRET_KEY=$$($(PY) -c 'import secrets; print(secrets.token_urlsafe(48))')
TEMPLATES := find templates -name '*.html' -print0 | xargs -0
TESTING := DJANGO_SETTINGS_MODULE=tests.settings
# Every process has a database and a queue of its own; the tests of one file stay together.
PYTEST := $(PY) -m pytest -n auto --maxprocesses 4 --dist loadfile

.PHONY: help demo test test-services test-embedded lint format bench screenshots lock clean

help: ## show this list
	@awk -F ':.*## ' '/^[a-z-]+:.*## / {printf "  make %-15s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

demo: $(VENV)/.runtime ## fill a demo academy and serve it (PORT=8000)
	$(DEMO) $(PY) manage.py migrate --verbosity 0
	$(DEMO) $(PY) manage.py collectstatic --no-input --verbosity 0
	$(DEMO) FANLIGHT_SITE_URL=http://127.0.0.1:$(PORT) $(PY) manage.py seed_demo
	@echo; $(DEMO) $(PY) manage.py seed_demo --show-logins
	@echo; echo "  Fanlight is at http://127.0.0.1:$(PORT)/  (Ctrl-C stops it)"; echo
	@$(DEMO) FANLIGHT_SITE_URL=http://127.0.0.1:$(PORT) exec $(PY) -m gunicorn academy.wsgi \
	  --bind 127.0.0.1:$(PORT) --workers 1 --threads 8 --log-level warning

test: lint test-services test-embedded ## everything: lint, all tests on real services, then on SQLite

test-services: $(VENV)/.dev ## all tests on PostgreSQL, Valkey, a Celery worker, SMTP and Chromium
	$(PYTEST)

test-embedded: $(VENV)/.dev ## what needs neither browser nor outside programs, on SQLite without services
	$(PYTEST) --embedded -m "not browser and not outside"

lint: $(VENV)/.dev ## format, style, types, import rules, migrations, system checks
	$(VENV)/bin/ruff format --check .
	$(VENV)/bin/ruff check .
	$(TEMPLATES) $(VENV)/bin/djade --check --target-version 5.2
	$(VENV)/bin/djlint --lint --quiet templates
	$(VENV)/bin/mypy
	$(VENV)/bin/lint-imports
	$(TESTING) $(PY) manage.py makemigrations --check --dry-run
	$(TESTING) $(PY) manage.py check
	$(LIKE_PRODUCTION) $(PY) manage.py check --deploy --fail-level WARNING

format: $(VENV)/.dev ## put code and templates into shape
	$(VENV)/bin/ruff format .
	$(VENV)/bin/ruff check --fix .
	-$(TEMPLATES) $(VENV)/bin/djade --target-version 5.2

bench: $(VENV)/.dev ## measure the computations and the pages that must be quick
	$(PY) -m tests.bench.run

screenshots: $(VENV)/.dev ## photograph the demo's main pages into .screenshots/
	$(PY) -m tests.services.screenshots

lock: $(VENV)/.made ## pin the newest releases that pyproject.toml allows
	$(PY) -m pip install --quiet --disable-pip-version-check uv
	$(VENV)/bin/uv pip compile pyproject.toml $(COMPILE) -o requirements.txt
	$(VENV)/bin/uv pip compile pyproject.toml --group dev -c requirements.txt $(COMPILE) -o requirements-dev.txt
COMPILE := --upgrade --universal --generate-hashes --no-annotate --no-header --quiet

clean: ## remove everything that make made
	rm -rf $(VENV) .demo .test .screenshots .hypothesis .mypy_cache .pytest_cache .ruff_cache .import_linter_cache

# --- What the targets stand on ---

$(VENV)/.made:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "Fanlight needs Python 3.11 or newer; $(PYTHON) is older. Name another: make PYTHON=python3.12 ..."; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || \
	  { echo "This Python cannot make virtual environments. On Debian or Ubuntu: apt-get install python3-venv"; exit 1; }
	$(PYTHON) -m venv $(VENV)
	touch $@

$(VENV)/.runtime: requirements.txt $(VENV)/.made
	$(PY) -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.txt
	touch $@

$(VENV)/.dev: requirements-dev.txt $(VENV)/.made
	$(PY) -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements-dev.txt
	touch $@ $(VENV)/.runtime
