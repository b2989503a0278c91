"""What migrations make of rows that were there before: pairs to draw, and competence rules."""

from dataclasses import asdict
from datetime import UTC, datetime

from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from assessments.scoring.mastery import MasteryConditions
from assessments.scoring.programme_rules import PRESETS

PUBLISHED_AT = datetime(2026, 1, 12, 9, 0, tzinfo=UTC)
BEFORE = [
    ("assessments", "0002_clock_and_counts_are_complete"),
    ("courses", "0001_catalogue_heads_and_briefs"),
]
AFTER = [("assessments", "0003_positions_say_lengths_and_pairs")]
BEFORE_RULES = [("assessments", "0004_competence_rules_and_decisions")]
WITH_RULES = [("assessments", "0005_academies_get_default_competence_rules")]


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


def test_an_academy_that_was_open_before_there_were_rules_gets_the_defaults(transactional_db: None):
    executor = MigrationExecutor(connection)
    leaves = executor.loader.graph.leaf_nodes()
    try:
        executor.migrate(BEFORE_RULES)
        before = executor.loader.project_state(BEFORE_RULES).apps
        before.get_model("academy", "Academy").objects.create(name="A", town="B", time_zone="UTC")
        before.get_model("courses", "Skill").objects.create(code="isolation", name="Isolation", is_gate=True)
        before.get_model("courses", "Skill").objects.create(code="closure", name="Fan closure")
        executor = MigrationExecutor(connection)
        executor.migrate(WITH_RULES)
        after = executor.loader.project_state(WITH_RULES).apps
        rule = after.get_model("assessments", "CompetenceRule").objects.get()
        assert (rule.skill.code, rule.number, rule.made_by) == ("isolation", 1, None)
        assert rule.programme == PRESETS["short_course"]
        mastery = after.get_model("assessments", "MasteryRule").objects.get()
        assert mastery.conditions == asdict(MasteryConditions())
    finally:
        executor = MigrationExecutor(connection)
        executor.migrate(leaves)
