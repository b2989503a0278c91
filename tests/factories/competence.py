"""Rules that decide within a few sets, and sets that pass or fail a gate skill."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from academy.models import Membership
from assessments.models import CompetenceRule, Grade
from assessments.services.competence import change_rule
from courses.models import Skill
from tests.factories.assessments import STARTED, Bench, make_entry, make_graded_set

RATES = {"acceptable_rate": 0.10, "inadequate_rate": 0.50, "horizon": 20}
# One fail adds ln(0.5 / 0.1) = 1.609 to the watch: enough for this threshold.
QUICK_WATCH = {**RATES, "threshold": 1.5}


def passes_in_a_row(length: int, *, watch: dict[str, Any] | None = QUICK_WATCH) -> dict[str, Any]:
    return {"name": f"{length} in a row", "rule": {"kind": "run", "length": length, **RATES}, "watch": watch}


def set_rule(actor: Membership, programme: dict[str, Any], *, skill: str = "isolation") -> CompetenceRule:
    return change_rule(
        academy=actor.academy,
        skill=Skill.objects.get(code=skill),
        programme=programme,
        actor=actor,
        now=STARTED - timedelta(days=1),
    )


def sets_at(
    bench: Bench, levels: Sequence[int], *, skill: str = "isolation", first: datetime = STARTED
) -> list[Grade]:
    """One graded set every other day with this level on one criterion; the rest is as inspected, clean."""
    return [
        make_graded_set(bench, at=first + timedelta(days=2 * nth), entry=make_entry(levels={skill: level}))
        for nth, level in enumerate(levels)
    ]
