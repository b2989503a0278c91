"""The last line of defence: every rule of the database bites, also when no service stands before it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import connection

from assessments.models import (
    BriefRubric,
    CompetenceDecision,
    CompetenceRule,
    CompetenceStanding,
    Criterion,
    Grade,
    HygieneLine,
    LevelDescriptor,
    Mark,
    MarkingDraft,
    MasteryRule,
    ParameterVersion,
    Position,
    PracticeSet,
    RubricVersion,
    SkillStanding,
)
from assessments.services.marking import correct_marks
from tests.assessments.models.constraints import again, bitten, change, first
from tests.assessments.models.test_constraints_agreement import CASES as OF_AGREEMENT
from tests.assessments.models.test_constraints_batches import CASES as OF_BATCHES
from tests.assessments.models.test_constraints_certificates import CASES as OF_CERTIFICATES
from tests.assessments.models.test_constraints_gate import CASES as OF_GATE
from tests.assessments.models.test_constraints_needs import CASES as OF_NEEDS
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, make_entry
from tests.factories.bench import graded_set, open_ready_set
from tests.factories.courses import make_head
from tests.factories.rubrics import rubric_draft

LATER = STARTED + timedelta(days=1)


@dataclass(frozen=True, slots=True)
class World:
    """A graded and corrected set, the next one open, a rubric draft, and a head and a student to spare."""

    graded: PracticeSet
    opened: PracticeSet
    draft: RubricVersion
    spare_head: int
    other_student: int


@pytest.fixture
def world(bench: Bench, cast: Cast) -> World:
    graded = graded_set(bench).practice_set
    correct_marks(
        actor=bench.educator,
        uid=graded.uid,
        entry=make_entry(),
        reason="looked again",
        base_revision=1,
        now=LATER,
    )
    opened = open_ready_set(bench, at=LATER)
    draft = rubric_draft(cast.academy, cast.owner)
    MarkingDraft.objects.create(practice_set=graded, saved_by=cast.ines, saved_at=LATER)
    BriefRubric.objects.create(brief=bench.brief.brief, version=opened.rubric)
    _declare(graded)
    ParameterVersion.objects.create(
        academy=cast.academy, number=1, parameters={}, sets=1, students=1, made_at=LATER
    )
    graded.refresh_from_db()
    return World(graded, opened, draft, make_head(cast.academy, "Spare").pk, cast.bea.pk)


def _declare(graded: PracticeSet) -> None:
    standing = CompetenceStanding.objects.filter(student=graded.student)[0]
    CompetenceDecision.objects.create(
        student=graded.student,
        skill=standing.skill,
        rule=standing.rule,
        kind="declared",
        practice_set=graded,
        words="Competent.",
        at=LATER,
    )


def fresh(**changes: Any) -> dict[str, Any]:
    return {"uid": uuid4(), **changes}


CASES: dict[str, list[Callable[[World], None]]] = {
    "practice_set_number_once_per_student": [lambda w: again(w.graded, **fresh())],
    "practice_set_one_open_per_student": [
        lambda w: again(w.opened, **fresh(number=9, head_id=w.spare_head)),
        lambda w: again(w.opened, **fresh(number=9, head_id=w.spare_head, state="paused", started_at=LATER)),
    ],
    "practice_set_one_open_per_head": [
        lambda w: again(w.opened, **fresh(student_id=w.other_student)),
        lambda w: again(w.graded, **fresh(student_id=w.other_student, state="finished", graded_at=None)),
    ],
    "practice_set_known_state": [lambda w: change(w.graded, state="lost", graded_at=None)],
    "practice_set_started_has_start": [lambda w: change(w.opened, state="working")],
    "practice_set_finished_has_clock": [
        lambda w: change(w.graded, worked_s=-1),
        lambda w: change(w.graded, worked_s=None),
        lambda w: change(w.graded, finished_at=None),
        lambda w: change(w.graded, finished_at=STARTED - timedelta(hours=1)),
    ],
    "practice_set_graded_has_instant": [
        lambda w: change(w.graded, graded_at=None),
        lambda w: change(w.opened, graded_at=LATER),
    ],
    "practice_set_humidity_range": [
        lambda w: change(w.opened, room_rh=0),
        lambda w: change(w.opened, room_rh=140),
    ],
    "practice_set_temperature_range": [
        lambda w: change(w.opened, room_c="4.9"),
        lambda w: change(w.opened, room_c="45.1"),
    ],
    "inspection_one_first_look_per_set": [lambda w: again(w.graded.inspections.first())],
    "position_index_once": [lambda w: again(first(Position), fan=99)],
    "position_fan_once": [lambda w: again(first(Position), index=99)],
    "position_gap_range": [
        lambda w: change(first(Position), gap_mm="-0.01"),
        lambda w: change(first(Position), gap_mm="20.01"),
    ],
    "position_direction_range": [lambda w: change(first(Position), direction_deg=181)],
    "position_found_length_range": [
        lambda w: change(first(Position), found_length_mm="2.9"),
        lambda w: change(first(Position), found_length_mm="25.1"),
    ],
    "grade_revision_once": [lambda w: again(first(Grade, revision=1))],
    "grade_correction_has_reason": [lambda w: change(first(Grade, revision=2), reason="")],
    "mark_once_per_criterion": [lambda w: again(first(Mark))],
    "mark_level_range": [lambda w: change(first(Mark), level=5, override_reason="x")],
    "mark_faults_within_inspected": [
        lambda w: change(first(Mark), faults=41, inspected=40),
        lambda w: change(first(Mark), faults=3, inspected=None),
    ],
    "mark_override_has_reason": [
        lambda w: change(first(Mark, criterion__code="isolation"), level=1, override_reason="")
    ],
    "rubric_name_once_per_academy": [lambda w: again(w.draft.rubric, name="STARTER RUBRIC")],
    "rubric_version_number_once": [lambda w: again(w.opened.rubric)],
    "rubric_one_draft_at_a_time": [lambda w: again(w.draft, number=9)],
    "criterion_code_once_per_version": [lambda w: again(first(Criterion))],
    "criterion_weight_not_negative": [lambda w: change(first(Criterion), weight="-0.01")],
    "criterion_gate_level_range": [lambda w: change(first(Criterion), gate_min=5)],
    "descriptor_once_per_level": [lambda w: again(first(LevelDescriptor))],
    "descriptor_level_range": [lambda w: change(first(LevelDescriptor, level=4), level=5)],
    "hygiene_line_code_once": [lambda w: again(first(HygieneLine))],
    "parameter_version_number_once": [lambda w: again(first(ParameterVersion))],
    "standing_once_per_skill": [lambda w: again(first(SkillStanding))],
    "competence_rule_number_once": [lambda w: again(first(CompetenceRule))],
    "mastery_rule_number_once": [lambda w: again(first(MasteryRule))],
    "competence_decision_kind": [lambda w: change(first(CompetenceDecision), kind="maybe")],
    "competence_withdrawal_names_it": [
        lambda w: change(first(CompetenceDecision), kind="withdrawn"),
        lambda w: change(first(CompetenceDecision), withdraws=first(CompetenceDecision)),
    ],
    "competence_once_per_skill": [lambda w: again(first(CompetenceStanding))],
    "competence_known_status": [lambda w: change(first(CompetenceStanding), status="lost")],
}
# Fields that are unique by themselves, by table and column.
ALONE: dict[str, Callable[[World], None]] = {
    "assessments_practiceset.uid": lambda w: again(w.graded, student_id=w.other_student),
    "assessments_setevent.uid": lambda w: again(w.graded.events.first()),
    "assessments_markingdraft.practice_set_id": lambda w: again(first(MarkingDraft)),
    "assessments_briefrubric.brief_id": lambda w: again(first(BriefRubric)),
}


def test_every_constraint_bites_by_its_own_name(world: World):
    answers = {name: [bitten(attempt, world) for attempt in attempts] for name, attempts in CASES.items()}
    assert [name for name, said in answers.items() if not all(said)] == []
    if connection.vendor == "postgresql":
        assert {name: said for name, said in answers.items() if set(said) != {name}} == {}


def test_every_field_that_is_unique_alone_bites(world: World):
    answers = {name: bitten(attempt, world) for name, attempt in ALONE.items()}
    assert [name for name, said in answers.items() if name.split(".")[1] not in said] == []


def test_no_constraint_of_this_app_is_left_untried():
    declared = {
        constraint.name
        for model in apps.get_app_config("assessments").get_models()
        for constraint in model._meta.constraints
    }
    assert declared == {*CASES, *OF_AGREEMENT, *OF_BATCHES, *OF_CERTIFICATES, *OF_GATE, *OF_NEEDS}
