"""Facts of one student, invented, with everything met; a test takes one thing away."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from assessments.scoring.mastery import MasteryConditions, MasterySet
from assessments.scoring.readiness_facts import (
    ConsentFact,
    HoursFact,
    LevelFact,
    MasteryFact,
    ReadinessFacts,
    SetFact,
    SkillFact,
    UnitFact,
)

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def a_set(number: int, **changes: Any) -> SetFact:
    """Worked 3 h on the n-th day of February, signed the same day, ten hygiene lines signed."""
    on = date(2026, 2, number)
    fact = SetFact(
        uid=f"uid-{number}",
        number=number,
        on=on,
        graded_at=datetime(2026, 2, number, 14, 0, tzinfo=UTC),
        grade=f"{100 + number}",
        worked_minutes=180,
        lines=10,
        missed=(),
    )
    return replace(fact, **changes)


def a_mastery_set(number: int, **changes: Any) -> MasterySet:
    fact = MasterySet(
        day=date(2026, 2, number),
        gates_passed=True,
        levels={"Isolation": 4, "Placement": 3},
        faults=0,
        inspected=40,
        educator=1,
        blind_by=frozenset({2}) if number == 3 else frozenset(),
    )
    return replace(fact, **changes)


def mastery(*sets: MasterySet, waiting: tuple[int, ...] = (), **conditions: int) -> MasteryFact:
    """Set n stands beside the n-th of the facts."""
    known = [a_set(number) for number in range(1, len(sets) + 1)]
    return MasteryFact(sets, known, MasteryConditions(**conditions), waiting)


def facts(**changes: Any) -> ReadinessFacts:
    known = ReadinessFacts(
        units=(
            UnitFact("hygiene", "Hygiene", True, True, "signed off", "1"),
            UnitFact("infill", "Infill", False, True, "signed off", "2"),
        ),
        hours=HoursFact(theory=480, practical=60, clock=540, asked_theory=8, asked_practical=10),
        sets=[a_set(1), a_set(2), a_set(3)],
        graded=3,
        skills=[SkillFact("isolation", "Isolation", True, "competent", "7")],
        mastery=mastery(a_mastery_set(1), a_mastery_set(2), a_mastery_set(3)),
        consents={"assessment_record": ConsentFact("Assessment record", True, date(2026, 1, 12), "9")},
        levels={"isolation": LevelFact("Isolation", 3.2)},
        openings=1,
        now=NOW,
    )
    return replace(known, **changes)


def days_later(days: int) -> datetime:
    return NOW + timedelta(days=days)
