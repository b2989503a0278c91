"""Chance gives a signed set to another educator; the rate is the owner's, a waiver needs its reason."""

import pytest

from academy.errors import Conflict, DomainError
from academy.models import AuditEntry, Role
from assessments.models import Position, SecondMark, SecondMarkRate
from assessments.services.second_choice import HEAD_REUSED, RateOutOfRange, change_rate, waive_second_mark
from assessments.services.second_marks import apply_second_events
from tests.factories.academy import Cast, make_member
from tests.factories.assessments import STARTED, Bench
from tests.factories.bench import faulty, graded_set, inspected_set, make_bench
from tests.factories.second_marks import LATER, give_second_mark, mark_every_set_twice, sign_first


def test_no_set_is_chosen_before_the_owner_sets_a_rate_or_at_rate_0(bench: Bench, cast: Cast):
    graded_set(bench)
    mark_every_set_twice(cast.owner, one_in=0)
    graded_set(bench, at=LATER)
    assert not SecondMark.objects.exists()


def test_at_one_in_one_every_signed_set_goes_to_the_other_educator(bench: Bench, cast: Cast):
    mark_every_set_twice(cast.owner)
    grade = graded_set(bench)
    second = SecondMark.objects.get()
    assert (second.practice_set, second.assigned_to, second.state) == (
        grade.practice_set,
        cast.second,
        "open",
    )
    assert AuditEntry.objects.filter(action="choose_second_mark").count() == 1


def test_the_second_look_is_at_the_very_same_places_and_none_is_looked_at_yet(bench: Bench, cast: Cast):
    mark_every_set_twice(cast.owner)
    grade = graded_set(bench, found={3: faulty("STK")})
    second = SecondMark.objects.get().inspection
    places = ("index", "eye", "zone", "layer", "fan", "wants_gap", "wants_direction", "wants_length")
    first = list(grade.inspection.positions.values_list(*places))
    assert list(second.positions.values_list(*places)) == first and len(first) == 40
    looks = second.positions.all()
    assert {(p.finding, p.gap_mm, p.direction_deg, p.seen_at) for p in looks} == {
        ("unseen", None, None, None)
    }
    assert not Position.faults.through.objects.filter(position__inspection=second).exists()
    assert second.is_blind and second.closed_at is None


def test_the_owner_helps_out_where_no_other_educator_is_left(bench: Bench, cast: Cast):
    cast.second.left_at = STARTED
    cast.second.save()
    mark_every_set_twice(cast.owner)
    graded_set(bench)
    assert SecondMark.objects.get().assigned_to == cast.owner


def test_with_nobody_else_no_set_is_chosen(bench: Bench, cast: Cast):
    mark_every_set_twice(cast.owner)
    for other in (cast.second, cast.owner):
        other.left_at = STARTED
        other.save()
    graded_set(bench)
    assert not SecondMark.objects.exists()


def test_who_inspected_first_is_not_the_second_either(bench: Bench, cast: Cast):
    third = make_member(cast.academy, "Rhea Quill", Role.EDUCATOR)
    mark_every_set_twice(cast.owner)
    made = inspected_set(bench)
    sign_first(made, cast.second)
    assert SecondMark.objects.get().assigned_to == third


def test_the_load_is_kept_even_between_those_who_may(bench: Bench, cast: Cast):
    make_member(cast.academy, "Rhea Quill", Role.EDUCATOR)
    mark_every_set_twice(cast.owner)
    for number in range(4):
        graded_set(make_bench(cast, head=f"Even {number}"), at=STARTED.replace(day=5 + number))
    given = [second.assigned_to_id for second in SecondMark.objects.all()]
    assert sorted(given.count(one) for one in set(given)) == [2, 2]


def test_a_set_whose_head_carried_another_one_meanwhile_is_waived_and_counted(bench: Bench, cast: Cast):
    mark_every_set_twice(cast.owner)
    made = inspected_set(bench)
    inspected_set(Bench(cast.bea, cast.ines, bench.brief, bench.head), at=LATER)
    sign_first(made, cast.ines, at=LATER.replace(hour=20))
    second = SecondMark.objects.get()
    assert (second.state, second.reason) == ("waived", HEAD_REUSED)


def test_the_rate_keeps_its_secret_when_it_changes(cast: Cast):
    mark_every_set_twice(cast.owner, one_in=5)
    change_rate(actor=cast.owner, one_in=3, seed="another", now=LATER)
    rate = SecondMarkRate.objects.get()
    assert (rate.one_in, rate.seed) == (3, "a secret of the tests")
    changes = AuditEntry.objects.filter(action="change_second_mark_rate").order_by("id")
    assert [(entry.before, entry.after) for entry in changes] == [
        ({"one_in": 0}, {"one_in": 5}),
        ({"one_in": 5}, {"one_in": 3}),
    ]


@pytest.mark.parametrize("one_in", [-1, 101])
def test_an_impossible_rate_is_refused(cast: Cast, one_in: int):
    with pytest.raises(RateOutOfRange, match="whole number from 1 to 100, or 0"):
        change_rate(actor=cast.owner, one_in=one_in, seed="s", now=STARTED)


def test_waiving_needs_a_reason_and_happens_once(bench: Bench, cast: Cast):
    second = give_second_mark(graded_set(bench), cast.second)
    with pytest.raises(DomainError, match="Say in a few words"):
        waive_second_mark(actor=cast.owner, second_mark=second, reason="  ", now=LATER)
    waived = waive_second_mark(actor=cast.owner, second_mark=second, reason="Strip tore.", now=LATER)
    assert (waived.state, waived.reason, waived.closed_at) == ("waived", "Strip tore.", LATER)
    with pytest.raises(Conflict):
        waive_second_mark(actor=cast.owner, second_mark=second, reason="Again.", now=LATER)
    with pytest.raises(Conflict):
        apply_second_events(actor=cast.second, uid=second.uid, events=[], now=LATER)
