"""Several people open a set or send its events at the same instant, on the database that many share."""

from collections.abc import Callable
from datetime import timedelta
from functools import partial
from uuid import uuid4

import pytest

from academy.errors import DomainError
from assessments.models import PracticeSet, SetEvent
from assessments.services.sets import (
    EventResult,
    FormUsed,
    HeadInUse,
    SentElsewhere,
    SetAlreadyOpen,
    apply_events,
    open_set,
)
from tests.factories.academy import Cast
from tests.factories.assessments import SEED, STARTED, Bench
from tests.factories.bench import event, make_bench, positions_of, setup_of, working_set
from tests.factories.courses import make_head
from tests.factories.parallel import at_once

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]

END = STARTED + timedelta(hours=3)


def opening(bench: Bench, uid=None, **changes):
    return partial(
        open_set, actor=bench.educator, setup=setup_of(bench, **changes), uid=uid or uuid4(), now=STARTED
    )


def answered(*sends: Callable[[], list[EventResult]]) -> list[list[EventResult]]:
    answers = at_once(*sends)
    assert all(isinstance(answer, list) for answer in answers), answers
    return [answer for answer in answers if isinstance(answer, list)]


def test_of_two_openings_for_one_student_exactly_one_wins(bench: Bench, cast: Cast):
    second_head = make_head(cast.academy, "Head 2").pk
    answers = at_once(
        opening(bench), opening(bench, head_id=second_head), opening(bench, head_id=second_head)
    )
    (won,) = [answer for answer in answers if isinstance(answer, PracticeSet)]
    assert [type(answer) for answer in answers if answer is not won] == [SetAlreadyOpen, SetAlreadyOpen]
    assert PracticeSet.objects.get() == won


def test_of_two_openings_on_one_head_exactly_one_wins(bench: Bench, cast: Cast):
    answers = at_once(opening(bench), opening(bench, student_id=cast.bea.pk))
    (won,) = [answer for answer in answers if isinstance(answer, PracticeSet)]
    assert [type(answer) for answer in answers if answer is not won] == [HeadInUse]
    assert PracticeSet.objects.get() == won


def test_one_form_sent_twice_at_once_opens_one_set_and_answers_it_twice(bench: Bench):
    uid = uuid4()
    first, second = at_once(opening(bench, uid), opening(bench, uid))
    assert first == second == PracticeSet.objects.get()


def test_one_form_that_opens_sets_for_two_students_at_once_opens_one(bench: Bench, cast: Cast):
    other, uid = make_bench(cast, cast.bea, head="Head 2"), uuid4()
    answers = at_once(opening(bench, uid), opening(other, uid))
    assert [type(answer) for answer in answers if isinstance(answer, DomainError)] == [FormUsed]
    assert PracticeSet.objects.count() == 1


def test_one_event_that_reaches_two_sets_at_once_is_kept_on_one(bench: Bench, cast: Cast):
    benches = [bench, make_bench(cast, cast.bea, head="Head 2")]
    pause = event("pause", STARTED + timedelta(minutes=10))
    sets = [working_set(each) for each in benches]
    answers = at_once(
        *(
            partial(apply_events, actor=bench.educator, uid=made.uid, events=[pause], seed=SEED, now=END)
            for made in sets
        )
    )
    refused = [answer for answer in answers if isinstance(answer, SentElsewhere)]
    told = [result.status for answer in answers if isinstance(answer, list) for result in answer]
    assert (told, len(refused)) in [
        (["applied"], 1),
        (["applied", "refused"], 0),
        (["refused", "applied"], 0),
    ]
    assert SetEvent.objects.filter(uid=pause.uid).count() == 1
    assert sorted(PracticeSet.objects.values_list("state", flat=True)) == ["paused", "working"]


def test_two_students_who_swap_heads_do_not_wait_for_each_other_for_ever(bench: Bench, cast: Cast):
    other = make_bench(cast, cast.bea, head="Head 2")
    answers = at_once(
        opening(bench),
        opening(other),
        opening(bench, head_id=other.head.pk),
        opening(other, head_id=bench.head.pk),
    )
    won = [answer for answer in answers if isinstance(answer, PracticeSet)]
    assert len(won) == PracticeSet.objects.count() >= 1
    assert len({made.student_id for made in won}) == len({made.head_id for made in won}) == len(won)


def test_two_devices_that_finish_one_set_draw_its_positions_once(bench: Bench):
    made = working_set(bench)
    finishes = [
        partial(
            apply_events,
            actor=bench.educator,
            uid=made.uid,
            events=[event("finish", END)],
            seed=seed,
            now=END,
        )
        for seed in (SEED, SEED + 1)
    ]
    answers = [result.status for results in answered(*finishes) for result in results]
    assert sorted(answers) == ["applied", "refused"]
    assert len(positions_of(made)) == 40


def test_one_batch_sent_by_two_tabs_at_once_is_applied_once(bench: Bench):
    made = working_set(bench)
    batch = [
        event("pause", STARTED + timedelta(minutes=10)),
        event("resume", STARTED + timedelta(minutes=12)),
    ]
    send = partial(apply_events, actor=bench.educator, uid=made.uid, events=batch, seed=SEED, now=END)
    answers = [result.status for results in answered(send, send) for result in results]
    assert sorted(answers) == ["applied", "applied", "repeated", "repeated"]
    assert SetEvent.objects.filter(kind="pause").count() == 1
