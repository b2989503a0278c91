"""Versions written when a cell had one length become maps that say the same, forwards, again and back."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from importlib import import_module
from typing import Any

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from courses.mapping.lash_map import Fan, uniform_map
from courses.mapping.map_json import read_map

ZONES = ("inner", "inner_mid", "outer_mid", "outer")
LENGTHS = {
    (zone, layer): top - (layer == "bottom")
    for zone, top in zip(ZONES, (9, 11, 12, 10), strict=True)
    for layer in ("top", "bottom")
}
MADE_AT = datetime(2026, 1, 12, 9, 0, tzinfo=UTC)
Migrate = Callable[[str], Any]


@pytest.fixture
def migrate(transactional_db: None) -> Iterator[Migrate]:
    """Call it with a migration of courses: it gives the models as they were there.

    It needs the database itself, so that all is migrated again before the tables are emptied.
    """

    def to(name: str) -> Any:
        executor = MigrationExecutor(connection)
        executor.migrate([("courses", name)])
        return executor.loader.project_state([("courses", name), ("academy", "0001_people_and_audit")]).apps

    yield to
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def make_version(apps: Any, number: int, **fan: Any) -> Any:
    """One version of one brief, as rows looked when lengths stood in a table of their own."""
    academy, _ = apps.get_model("academy", "Academy").objects.get_or_create(
        name="A", town="B", time_zone="UTC"
    )
    user, _ = apps.get_model("academy", "User").objects.get_or_create(
        email="ines@people.example", name="Ines"
    )
    actor, _ = apps.get_model("academy", "Membership").objects.get_or_create(
        academy=academy, user=user, role="educator", joined_at=MADE_AT
    )
    brief, _ = apps.get_model("courses", "SetBrief").objects.get_or_create(academy=academy, name="One")
    version = apps.get_model("courses", "BriefVersion").objects.create(
        brief=brief,
        number=number,
        style="volume",
        coverage_percent=100,
        zones=list(ZONES),
        layers=["top", "bottom"],
        created_by=actor,
        created_at=MADE_AT,
        **fan,
    )
    apps.get_model("courses", "BriefCell").objects.bulk_create(
        apps.get_model("courses", "BriefCell")(version=version, zone=zone, layer=layer, length_mm=length)
        for (zone, layer), length in LENGTHS.items()
    )
    return version


OPEN = {
    "fan_shape": "open",
    "filaments": 6,
    "diameter_hundredths": 5,
    "curl": "C",
    "opening_min_deg": 30,
    "opening_max_deg": 50,
}
CLOSED = {"fan_shape": "closed", "filaments": 3, "diameter_hundredths": 7, "curl": "D"}


def test_single_lengths_become_a_map_that_says_the_same(migrate: Migrate):
    before = migrate("0001_catalogue_heads_and_briefs")
    make_version(before, 1, **OPEN)
    make_version(before, 2, **CLOSED)
    after = migrate("0004_lengths_live_in_the_map")
    first, second = after.get_model("courses", "BriefVersion").objects.order_by("number")
    open_fan, closed_fan = Fan("open", 6, 5, "C", 30, 50), Fan("closed", 3, 7, "D")
    assert read_map(first.map) == uniform_map(ZONES, ("top", "bottom"), LENGTHS, open_fan)
    assert read_map(second.map) == uniform_map(ZONES, ("top", "bottom"), LENGTHS, closed_fan)
    assert (first.fan_kinds, second.fan_kinds) == (" open-5 ", " closed-7 ")
    assert (first.difficulty, first.silenced) == ("", {})


def test_run_again_it_leaves_maps_alone_and_back_gives_the_lengths(migrate: Migrate):
    make_version(migrate("0001_catalogue_heads_and_briefs"), 1, **OPEN)
    apps = migrate("0003_maps_from_single_lengths")
    versions = apps.get_model("courses", "BriefVersion").objects
    redrawn = {**versions.get().map, "placement": ["Peaks first."]}
    versions.update(map=redrawn)
    import_module("courses.migrations.0003_maps_from_single_lengths").fill_maps(apps, None)
    assert versions.get().map == redrawn
    back = migrate("0001_catalogue_heads_and_briefs")
    cells = back.get_model("courses", "BriefCell").objects.values_list("zone", "layer", "length_mm")
    assert {(zone, layer): length for zone, layer, length in cells} == LENGTHS
