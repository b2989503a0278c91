"""The last line of defence of second marks and standard sets: every rule of the database bites."""

from collections.abc import Callable
from uuid import uuid4

import pytest
from django.db import connection

from assessments.models import (
    DiscussionNote,
    SecondGrade,
    SecondLevel,
    SecondMark,
    SecondMarkEvent,
    SecondMarkRate,
    StandardLevel,
    StandardMark,
    StandardSet,
)
from assessments.services.second_marks import note_on_second_mark
from assessments.services.standard_sets import mark_standard_set
from tests.assessments.models.constraints import again, bitten, change, first
from tests.factories.academy import Cast
from tests.factories.assessments import Bench
from tests.factories.bench import graded_set
from tests.factories.second_marks import LATER, mark_every_set_twice, second_result, standard_of

Attempt = Callable[[None], None]

CASES: dict[str, list[Attempt]] = {
    "second_mark_rate_range": [lambda _: change(first(SecondMarkRate), one_in=101)],
    "second_mark_rate_has_secret": [lambda _: change(first(SecondMarkRate), seed="")],
    "second_mark_known_state": [lambda _: change(first(SecondMark), state="lost")],
    "second_mark_waived_has_reason": [
        lambda _: change(first(SecondMark), state="waived"),
        lambda _: change(first(SecondMark), reason="Why not"),
    ],
    "second_mark_closed_has_instant": [
        lambda _: change(first(SecondMark), closed_at=None),
        lambda _: change(first(SecondMark), state="open"),
    ],
    "second_mark_event_known_kind": [lambda _: again(first(SecondMarkEvent), uid=uuid4(), kind="pause")],
    "second_level_once_per_criterion": [lambda _: again(first(SecondLevel))],
    "second_level_range": [lambda _: change(first(SecondLevel), level=5)],
    "standard_set_once_per_grade": [lambda _: again(first(StandardSet), uid=uuid4())],
    "standard_mark_once_each": [lambda _: again(first(StandardMark))],
    "standard_level_once_per_criterion": [lambda _: again(first(StandardLevel))],
    "standard_level_range": [lambda _: change(first(StandardLevel), level=5)],
    "discussion_note_about_one_thing": [
        lambda _: change(first(DiscussionNote), second_mark=None),
        lambda _: change(first(DiscussionNote), standard_set=first(StandardSet)),
    ],
    "discussion_note_says_something": [lambda _: change(first(DiscussionNote), text="")],
}
# Fields that are unique by themselves, by table and column.
ALONE: dict[str, Attempt] = {
    "assessments_secondmark.uid": lambda _: again(first(SecondMark), practice_set_id=0, inspection_id=0),
    "assessments_secondmark.practice_set_id": lambda _: again(
        first(SecondMark), uid=uuid4(), inspection_id=0
    ),
    "assessments_secondmark.inspection_id": lambda _: again(
        first(SecondMark), uid=uuid4(), practice_set_id=0
    ),
    "assessments_secondmarkrate.academy_id": lambda _: again(first(SecondMarkRate)),
    "assessments_secondmarkevent.uid": lambda _: again(first(SecondMarkEvent)),
    "assessments_secondgrade.second_mark_id": lambda _: again(first(SecondGrade)),
    "assessments_standardset.uid": lambda _: again(first(StandardSet), grade_id=0),
}


@pytest.fixture
def rows(bench: Bench, cast: Cast) -> None:
    """One of each: a set marked twice and talked about, and marked as a standard set."""
    grade = graded_set(bench)
    second = second_result(grade, cast.second).second_mark
    second.refresh_from_db()
    note_on_second_mark(actor=cast.ines, second_mark=second, text="Lint.", now=LATER)
    standard = standard_of(grade, cast.owner)
    mark_standard_set(actor=cast.ines, standard=standard, levels={"wrap": 2}, now=LATER)
    mark_every_set_twice(cast.owner)


def test_every_constraint_bites_by_its_own_name(rows: None):
    answers = {name: [bitten(attempt, None) for attempt in attempts] for name, attempts in CASES.items()}
    assert [name for name, said in answers.items() if not all(said)] == []
    if connection.vendor == "postgresql":
        assert {name: said for name, said in answers.items() if set(said) != {name}} == {}


def test_every_field_that_is_unique_alone_bites(rows: None):
    answers = {name: bitten(attempt, None) for name, attempt in ALONE.items()}
    assert [name for name, said in answers.items() if name.split(".")[1] not in said] == []


def test_no_constraint_of_these_tables_is_left_untried():
    mine = [
        *(SecondMarkRate, SecondMark, SecondMarkEvent, SecondGrade, SecondLevel),
        *(StandardSet, StandardMark, StandardLevel, DiscussionNote),
    ]
    assert {rule.name for model in mine for rule in model._meta.constraints} == set(CASES)
