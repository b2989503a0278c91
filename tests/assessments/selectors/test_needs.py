from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from academy.errors import NotHere
from assessments.models import Need
from assessments.selectors.needs import (
    is_served,
    kind_for,
    need,
    need_lines,
    needs_due,
    needs_of,
    open_need,
    open_needs,
    planning_needs,
)
from assessments.services.needs import record_drill_count
from assessments.services.retraining import book_for_need
from courses.models import SessionKind
from tests.factories.academy import Cast, make_cohort
from tests.factories.assessments import STARTED, Bench, make_entry, make_graded_set
from tests.factories.needs import make_need
from tests.factories.rota import MADE_AT, make_rota, place_for

DAY = timedelta(days=1)


def lines(cast: Cast, now=STARTED, **which):
    return need_lines(cast.academy, list(open_needs(cast.academy, **which)), now=now)


def test_the_most_urgent_comes_first_and_then_the_earliest(cast: Cast):
    late = make_need(cast.ada, cast.ines, 0, due_on=date(2026, 3, 20))
    early = make_need(cast.ada, cast.ines, 1, due_on=date(2026, 3, 10))
    urgent = make_need(cast.bea, cast.ines, 2, priority=5, due_on=date(2026, 4, 1))
    assert list(open_needs(cast.academy)) == [urgent, early, late]


def test_they_are_found_by_kind_and_by_cohort(cast: Cast):
    mine = make_need(cast.ada, cast.ines)
    assert list(open_needs(cast.academy, kind="by_hand")) == [mine]
    assert list(open_needs(cast.academy, kind="weak")) == []
    assert list(open_needs(cast.academy, cohort_id=make_cohort(cast.academy, "Other").pk)) == []


def test_those_of_a_student_whom_the_reader_marks_blind_are_left_out(cast: Cast):
    make_need(cast.ada, cast.ines)
    assert list(open_needs(cast.academy, blind={cast.ada.pk})) == []


def test_who_has_left_needs_nothing(cast: Cast):
    make_need(cast.ada, cast.ines)
    cast.ada.left_at = STARTED
    cast.ada.save()
    assert list(open_needs(cast.academy)) == []


def test_another_academys_need_is_not_here(cast: Cast):
    mine = make_need(cast.ada, cast.ines)
    assert need(cast.academy, mine.pk) == mine
    with pytest.raises(NotHere):
        need(cast.other_academy, mine.pk)
    with pytest.raises(NotHere):
        open_need(cast.other_academy, mine.pk)


def test_a_need_that_is_answered_is_not_open(cast: Cast):
    mine = make_need(cast.ada, cast.ines)
    record_drill_count(need=mine, done=20, clean_count=20, actor=cast.ines, now=STARTED + DAY)
    with pytest.raises(NotHere):
        open_need(cast.academy, mine.pk)


@pytest.mark.parametrize(("days", "left", "late"), [(0, 7, 0), (7, 0, 0), (9, -2, 2)])
def test_days_are_counted_to_the_due_day(cast: Cast, days, left, late):
    make_need(cast.ada, cast.ines)
    (line,) = lines(cast, now=STARTED + days * DAY)
    assert (line.days_left, line.days_late, line.is_overdue) == (left, late, late > 0)


def test_what_is_due_soon_and_has_no_place_is_told_the_earliest_first(cast: Cast):
    rota = make_rota(cast)
    booked = make_need(cast.ada, cast.ines, 0, due_on=date(2026, 3, 3))
    later = make_need(cast.ada, cast.ines, 1, due_on=date(2026, 3, 4))
    overdue = make_need(cast.bea, cast.ines, 2, due_on=date(2026, 3, 1))
    make_need(cast.bea, cast.ines, 3, due_on=date(2026, 3, 5))
    place = place_for(cast, rota)
    book_for_need(need=booked, place=place, actor=cast.ines, live_allowed=False, now=MADE_AT)
    assert [line.need for line in needs_due(cast.academy, now=MADE_AT)] == [overdue, later]
    assert [line.need for line in needs_due(cast.academy, now=MADE_AT, blind={cast.bea.pk})] == [later]


def test_a_counted_drill_is_booked_as_a_group_and_a_gate_at_the_bench(cast: Cast):
    rota = make_rota(cast)
    kinds = list(SessionKind.objects.all())
    mine = make_need(cast.ada, cast.ines)
    assert kind_for(mine, kinds) == rota.group
    assert kind_for(Need(kind="failed_gate", drill=mine.drill), kinds) == rota.supervised
    assert kind_for(mine, [rota.supervised, rota.live]) == rota.supervised
    assert kind_for(mine, [rota.live]) is None


def test_the_place_booked_for_it_is_shown_until_it_is_over(cast: Cast):
    rota = make_rota(cast)
    mine = make_need(cast.ada, cast.ines)
    booking = book_for_need(
        need=mine, place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=MADE_AT
    )
    assert lines(cast, now=MADE_AT)[0].booking == booking
    assert is_served(mine, MADE_AT)
    assert lines(cast, now=booking.ends_at)[0].booking is None
    assert not is_served(mine, booking.ends_at)


def test_without_a_kind_of_session_nothing_is_planned(cast: Cast):
    make_need(cast.ada, cast.ines)
    days = {"first_on": MADE_AT.date(), "last_on": MADE_AT.date() + 14 * DAY}
    assert planning_needs(cast.academy, **days, now=MADE_AT) == []
    rota = make_rota(cast)
    (asked,) = planning_needs(cast.academy, **days, now=MADE_AT)
    assert (asked.student, asked.kind, asked.booking) == (cast.ada.pk, rota.group.pk, None)


class TestPicture:
    def test_it_shows_now_the_due_day_and_the_target(self, bench: Bench, cast: Cast):
        make_graded_set(bench, entry=make_entry(levels={"isolation": 1}))
        found = needs_of(cast.ada, now=STARTED + DAY)
        picture = next(each for each in found.open if each.line.need.skill.code == "isolation")
        assert picture.fading is not None
        assert picture.fading.ahead[picture.due_place] == picture.line.days_left == 6
        assert (picture.level_now or 0) >= (picture.level_due or 0) > 0
        assert picture.fading.target.target == 3.0

    def test_an_overdue_need_is_shown_from_today_on(self, bench: Bench, cast: Cast):
        make_graded_set(bench, entry=make_entry(levels={"isolation": 1}))
        found = needs_of(cast.ada, now=STARTED + 30 * DAY)
        assert {each.due_place for each in found.open} == {0}

    def test_a_skill_without_marks_has_no_picture_but_its_count(self, cast: Cast):
        mine = make_need(cast.ada, cast.ines)
        record_drill_count(need=mine, done=9, clean_count=5, actor=cast.ines, now=STARTED + DAY)
        (picture,) = needs_of(cast.ada, now=STARTED + DAY).open
        assert (picture.fading, picture.level_now, picture.counted, picture.left_to_count) == (
            None,
            None,
            5,
            15,
        )

    def test_what_was_answered_is_told_with_its_evidence(self, cast: Cast):
        mine = make_need(cast.ada, cast.ines)
        count = record_drill_count(need=mine, done=20, clean_count=20, actor=cast.ines, now=STARTED + DAY)
        found = needs_of(cast.ada, now=STARTED + DAY)
        assert found.open == ()
        assert [each.closed_by_count for each in found.closed] == [count]

    def test_ten_needs_cost_as_many_queries_as_one(self, bench: Bench, cast: Cast):
        def cost():
            with CaptureQueriesContext(connection) as asked:
                needs_of(cast.ada, now=STARTED + DAY)
            return len(asked)

        make_need(cast.ada, cast.ines)
        one = cost()
        for nth in range(1, 10):
            make_need(cast.ada, cast.ines, nth)
        assert cost() == one
