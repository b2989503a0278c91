"""Migrations tell a story: each is named for what it does, and none is missing."""

import re

from django.apps import apps
from django.db.migrations.autodetector import MigrationAutodetector
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.state import ProjectState

from tests.architecture.house import APPS, ROOT

# Django's own choice when it finds no better name: 0007_auto_20250101_1200, or a chain of operations.
NAMED_BY_NOBODY = re.compile(r"auto_\d{8}|_and_more$")


def test_every_migration_says_what_it_does():
    names = [path.stem for app in APPS for path in (ROOT / app / "migrations").glob("[0-9]*.py")]
    assert names
    assert [name for name in names if not re.fullmatch(r"\d{4}_[a-z][a-z0-9_]*", name)] == []
    assert [name for name in names if NAMED_BY_NOBODY.search(name)] == []


def test_no_migration_is_missing():
    loader = MigrationLoader(None)
    changes = MigrationAutodetector(loader.project_state(), ProjectState.from_apps(apps)).changes(
        loader.graph
    )
    ours = {
        app: [str(op) for m in found for op in m.operations] for app, found in changes.items() if app in APPS
    }
    assert ours == {}


def test_each_app_grows_along_one_line():
    assert MigrationLoader(None).detect_conflicts() == {}
