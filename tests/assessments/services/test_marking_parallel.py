"""Two educators sign, correct or save one set at the same instant, on the database that many share."""

from datetime import timedelta
from functools import partial
from uuid import uuid4

import pytest

from assessments.models import Grade, MarkingDraft, SetEvent
from assessments.scoring.entry import MarkEntry
from assessments.services import marking
from assessments.services.marking import AlreadySigned, DraftMovedOn, correct_marks, save_draft, sign_marks
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, make_entry
from tests.factories.bench import graded_set, inspected_set
from tests.factories.parallel import at_once

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]

NOW = STARTED + timedelta(hours=6)


@pytest.fixture(autouse=True)
def letters(monkeypatch) -> list[int]:
    asked: list[int] = []
    monkeypatch.setattr(marking, "enqueue", lambda path, *, grade_id: asked.append(grade_id))
    return asked


def test_two_educators_sign_at_once_and_one_is_told_who_was_first(
    bench: Bench, cast: Cast, letters: list[int]
):
    made = inspected_set(bench)
    sign = partial(sign_marks, uid=made.uid, entry=make_entry(), now=NOW)
    answers = at_once(
        partial(sign, actor=cast.ines, event_uid=uuid4()), partial(sign, actor=cast.second, event_uid=uuid4())
    )
    (grade,) = Grade.objects.all()
    (told,) = [answer for answer in answers if isinstance(answer, AlreadySigned)]
    assert grade in answers
    assert grade.signed_by.name in told.message
    assert letters == [grade.pk]


def test_one_form_sent_twice_at_once_is_signed_once(bench: Bench, letters: list[int]):
    made = inspected_set(bench)
    sign = partial(
        sign_marks, actor=bench.educator, uid=made.uid, entry=make_entry(), event_uid=uuid4(), now=NOW
    )
    first, second = at_once(sign, sign)
    assert first == second == Grade.objects.get()
    assert SetEvent.objects.filter(kind="grade").count() == 1
    assert letters == [first.pk]


def test_two_corrections_at_once_make_one_revision(bench: Bench, cast: Cast):
    made = graded_set(bench).practice_set
    correct = partial(correct_marks, uid=made.uid, base_revision=1, now=NOW, reason="looked again")
    answers = at_once(
        partial(correct, actor=cast.ines, entry=make_entry(levels={"wrap": 1})),
        partial(correct, actor=cast.second, entry=make_entry(levels={"wrap": 2})),
    )
    assert [type(answer) for answer in answers if not isinstance(answer, Grade)] == [AlreadySigned]
    assert sorted(Grade.objects.values_list("revision", flat=True)) == [1, 2]


def test_two_first_drafts_at_once_keep_one_and_tell_the_other(bench: Bench, cast: Cast):
    made = inspected_set(bench)
    save = partial(save_draft, uid=made.uid, base=None, now=NOW)
    answers = at_once(
        partial(save, actor=cast.ines, entry=MarkEntry(note="hers")),
        partial(save, actor=cast.second, entry=MarkEntry(note="theirs")),
    )
    assert sorted(type(answer).__name__ for answer in answers) == ["DraftMovedOn", "MarkingDraft"]
    (told,) = [answer for answer in answers if isinstance(answer, DraftMovedOn)]
    assert told.current == MarkingDraft.objects.get()
