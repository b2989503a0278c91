"""Blind second marks in every state, and standard sets, through the services."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from academy.models import Membership
from assessments.models import Grade, Position, PracticeSet, SecondGrade, SecondMark, StandardSet
from assessments.scoring.entry import MarkEntry
from assessments.services.inspections import draw_second_look
from assessments.services.marking import sign_marks
from assessments.services.second_choice import change_rate
from assessments.services.second_marks import apply_second_events, sign_second_mark
from assessments.services.sets import BenchEvent
from assessments.services.standard_sets import choose_standard_set
from tests.factories.assessments import JUDGED, STARTED, make_entry
from tests.factories.bench import clean

LATER = STARTED + timedelta(days=1)


def mark_every_set_twice(owner: Membership, *, one_in: int = 1, now: datetime = STARTED) -> None:
    change_rate(actor=owner, one_in=one_in, seed="a secret of the tests", now=now)


def sign_first(made: PracticeSet, by: Membership, *, at: datetime = LATER) -> Grade:
    """The first result of an inspected set, signed by ``by``, who need not have inspected it."""
    return sign_marks(actor=by, uid=made.uid, entry=make_entry(), event_uid=uuid4(), now=at)


def give_second_mark(grade: Grade, to: Membership, *, at: datetime = LATER) -> SecondMark:
    """As if chance had chosen ``to``."""
    return SecondMark.objects.create(
        practice_set=grade.practice_set,
        inspection=draw_second_look(first=grade.inspection, inspector=to, now=at),
        assigned_to=to,
        chosen_at=at,
    )


def second_positions(second: SecondMark) -> list[Position]:
    """As they stand in the database now."""
    return list(second.inspection.positions.prefetch_related("faults"))


def inspect_second(
    second: SecondMark, *, found: Mapping[int, Mapping[str, Any]] | None = None, at: datetime = LATER
) -> SecondMark:
    """Every position clean, save those in ``found`` by index; then closed."""
    looks = [{**clean(place), **(found or {}).get(place.index, {})} for place in second_positions(second)]
    events = [BenchEvent(uuid4(), "position", at, look) for look in looks]
    events.append(BenchEvent(uuid4(), "inspect", at))
    results = apply_second_events(actor=second.assigned_to, uid=second.uid, events=events, now=at)
    refused = [result.problem for result in results if result.status != "applied"]
    assert not refused, refused
    return SecondMark.objects.select_related("inspection", "assigned_to__academy").get(pk=second.pk)


def second_entry(levels: Mapping[str, int] | None = None, *, note: str = "") -> MarkEntry:
    """Hygiene was not seen; a chosen level is given with a reason."""
    return MarkEntry(
        left_count=80,
        right_count=80,
        levels={**JUDGED, **(levels or {})},
        reasons=dict.fromkeys(levels or {}, "seen on the head"),
        note=note,
    )


def sign_second(
    second: SecondMark, levels: Mapping[str, int] | None = None, *, at: datetime = LATER, note: str = ""
) -> SecondGrade:
    return sign_second_mark(
        actor=second.assigned_to,
        uid=second.uid,
        entry=second_entry(levels, note=note),
        event_uid=uuid4(),
        now=at,
    )


def second_result(
    grade: Grade, by: Membership, levels: Mapping[str, int] | None = None, *, at: datetime = LATER
) -> SecondGrade:
    """Given, inspected without a fault and signed by ``by``."""
    return sign_second(inspect_second(give_second_mark(grade, by, at=at), at=at), levels, at=at)


def standard_of(grade: Grade, by: Membership, *, at: datetime = LATER, why: str = "") -> StandardSet:
    return choose_standard_set(actor=by, practice_set=grade.practice_set, why=why, now=at)
