"""What was published before there were pairs keeps drawing none; what is made afterwards draws one."""

from datetime import UTC, datetime

from django.db import connection
from django.db.migrations.executor import MigrationExecutor

PUBLISHED_AT = datetime(2026, 1, 12, 9, 0, tzinfo=UTC)
BEFORE = [
    ("assessments", "0002_clock_and_counts_are_complete"),
    ("courses", "0001_catalogue_heads_and_briefs"),
]
AFTER = [("assessments", "0003_positions_say_lengths_and_pairs")]


def test_a_published_version_keeps_drawing_what_it_drew(transactional_db: None):
    executor = MigrationExecutor(connection)
    leaves = executor.loader.graph.leaf_nodes()
    try:
        executor.migrate(BEFORE)
        before = executor.loader.project_state(BEFORE).apps
        academy = before.get_model("academy", "Academy").objects.create(name="A", town="B", time_zone="UTC")
        rubric = before.get_model("assessments", "Rubric").objects.create(academy=academy, name="One")
        before.get_model("assessments", "RubricVersion").objects.create(
            rubric=rubric, number=1, published_at=PUBLISHED_AT
        )
        executor = MigrationExecutor(connection)
        executor.migrate(AFTER)
        version_model = executor.loader.project_state(AFTER).apps.get_model("assessments", "RubricVersion")
        assert version_model.objects.get(number=1).pairs_per_zone == 0
        assert version_model.objects.create(rubric_id=rubric.pk, number=2).pairs_per_zone == 1
    finally:
        executor = MigrationExecutor(connection)
        executor.migrate(leaves)
