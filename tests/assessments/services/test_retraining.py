from datetime import date, timedelta

import pytest

from assessments.models import Need, NeedBooking
from assessments.selectors.needs import planning_needs
from assessments.services import retraining as services
from assessments.services.needs import record_drill_count
from assessments.services.retraining import (
    NeedIsClosed,
    accept_plan,
    accept_plan_line,
    ask_for_plan,
    book_for_need,
    compute_plan,
)
from courses.models import Booking, RotaProposal
from courses.services import bookings as booking_services
from courses.services.bookings import cancel_booking, move_booking
from courses.services.plan_lines import OthersFirst
from tests.factories.academy import Cast
from tests.factories.needs import make_need
from tests.factories.rota import MADE_AT, TEN, Rota, make_rota, place_for

NOW = MADE_AT


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch):
    monkeypatch.setattr(booking_services, "enqueue", lambda *args, **kwargs: None)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


def a_plan(cast: Cast, monkeypatch) -> RotaProposal:
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)
    plan = ask_for_plan(academy=cast.academy, weeks=2, time_limit_s=10, actor=cast.ines, now=NOW)
    compute_plan(proposal=plan, now=NOW)
    plan.refresh_from_db()
    return plan


def accept(cast: Cast, plan: RotaProposal):
    return accept_plan(proposal=plan, actor=cast.ines, now=NOW)


def test_a_place_booked_for_a_need_stays_with_it(cast: Cast, rota: Rota):
    need = make_need(cast.ada, cast.ines)
    booking = book_for_need(
        need=need, place=place_for(cast, rota), actor=cast.ada, live_allowed=False, now=NOW
    )
    assert booking.for_need.need == need
    assert booking.state == "accepted"


def test_a_need_answered_meanwhile_is_not_booked_for(cast: Cast, rota: Rota):
    need = make_need(cast.ada, cast.ines)
    record_drill_count(need=need, done=20, clean_count=20, actor=cast.ines, now=NOW)
    with pytest.raises(NeedIsClosed):
        book_for_need(need=need, place=place_for(cast, rota), actor=cast.ada, live_allowed=False, now=NOW)
    assert not Booking.objects.exists()


def test_a_plan_starts_today_and_is_computed_in_the_background(
    cast: Cast, rota: Rota, django_capture_on_commit_callbacks
):
    make_need(cast.ada, cast.ines)
    with django_capture_on_commit_callbacks(execute=True):
        plan = ask_for_plan(academy=cast.academy, weeks=2, time_limit_s=10, actor=cast.ines, now=NOW)
        assert plan.state == "queued"
    plan.refresh_from_db()
    assert (plan.first_on, plan.last_on) == (date(2026, 3, 2), date(2026, 3, 15))
    assert plan.state in {"ready", "failed"}  # the task reads the clock, for which these days may be over


def test_an_open_need_gets_a_place_and_keeps_it_once_accepted(cast: Cast, rota: Rota, monkeypatch):
    need = make_need(cast.ada, cast.ines)
    plan = a_plan(cast, monkeypatch)
    (line,) = plan.lines.all()
    assert (line.change, line.need) == ("new", need.pk)
    (done,) = accept(cast, plan)
    assert done.booking is not None
    assert NeedBooking.objects.get().booking == done.booking
    assert (done.booking.drill, done.booking.skill) == (need.drill, need.skill)
    assert (
        planning_needs(cast.academy, first_on=plan.first_on, last_on=plan.last_on, now=NOW)[0].booking
        == done.booking.pk
    )


def test_what_is_booked_on_another_day_is_not_planned_again(cast: Cast, rota: Rota):
    need = make_need(cast.ada, cast.ines)
    book_for_need(need=need, place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=NOW)
    before = TEN.date() - timedelta(days=1)
    assert planning_needs(cast.academy, first_on=NOW.date(), last_on=before, now=NOW) == []


def test_planned_again_nothing_moves(cast: Cast, rota: Rota, monkeypatch):
    make_need(cast.ada, cast.ines)
    accept(cast, a_plan(cast, monkeypatch))
    again = a_plan(cast, monkeypatch)
    assert [line.change for line in again.lines.all()] == ["unchanged"]


def test_a_plan_accepted_while_a_booking_changed_underneath_leaves_it_and_says_so(
    cast: Cast, rota: Rota, monkeypatch
):
    """Bench 1 closes to make the plan move her; she moves herself before it is accepted."""
    need = make_need(cast.ada, cast.ines)
    booking = book_for_need(
        need=need, place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=NOW
    )
    rota.benches[0].retired_at = NOW
    rota.benches[0].save()
    plan = a_plan(cast, monkeypatch)
    (line,) = plan.lines.all()
    assert line.change == "moved"
    mine = place_for(cast, rota, bench=rota.benches[1], starts_at=TEN + timedelta(days=2))
    move_booking(booking=booking, place=mine, actor=cast.ada, seen=0, live_allowed=False, now=NOW)
    (done,) = accept(cast, plan)
    assert (done.booking, done.line.state) == (None, "overtaken")
    booking.refresh_from_db()
    assert (booking.starts_at, booking.sequence) == (TEN + timedelta(days=2), 1)


def test_a_need_counted_or_booked_meanwhile_gets_no_second_place(cast: Cast, rota: Rota, monkeypatch):
    need, other = make_need(cast.ada, cast.ines), make_need(cast.bea, cast.ines)
    plan = a_plan(cast, monkeypatch)
    record_drill_count(need=need, done=20, clean_count=20, actor=cast.ines, now=NOW)
    late = place_for(cast, rota, student=cast.bea, starts_at=TEN + timedelta(days=3))
    mine = book_for_need(need=other, place=late, actor=cast.ines, live_allowed=False, now=NOW)
    assert {each.line.state for each in accept(cast, plan)} == {"overtaken"}
    assert list(Booking.objects.all()) == [mine]


def test_a_cancelled_place_frees_the_need_for_the_next_plan(cast: Cast, rota: Rota, monkeypatch):
    make_need(cast.ada, cast.ines)
    (done,) = accept(cast, a_plan(cast, monkeypatch))
    cancel_booking(booking=done.booking, actor=cast.ines, seen=0, now=NOW)
    assert [line.change for line in a_plan(cast, monkeypatch).lines.all()] == ["new"]


def test_those_who_would_change_places_stay_to_decide(cast: Cast, rota: Rota, monkeypatch):
    make_need(cast.ada, cast.ines)
    plan = a_plan(cast, monkeypatch)

    def waits(**keys):
        raise OthersFirst([0])

    monkeypatch.setattr(services, "accept_plan_line", waits)
    assert accept(cast, plan) == []
    assert plan.lines.get().state == "open"


def test_one_line_can_be_accepted_by_itself(cast: Cast, rota: Rota, monkeypatch):
    make_need(cast.ada, cast.ines)
    make_need(cast.bea, cast.ines)
    plan = a_plan(cast, monkeypatch)
    line = plan.lines.get(student=cast.bea)
    accept_plan_line(line=line, actor=cast.ines, now=NOW)
    plan.refresh_from_db()
    assert plan.state == "ready"
    assert Booking.objects.get().student == cast.bea
    assert Need.objects.filter(closed_at=None).count() == 2


def test_two_who_accept_one_plan_place_each_need_once(cast: Cast, rota: Rota, monkeypatch):
    """The other one is done between the reading of the lines and their accepting."""
    make_need(cast.ada, cast.ines)
    make_need(cast.bea, cast.ines)
    plan = a_plan(cast, monkeypatch)
    lines = list(plan.lines.all())
    assert len(accept(cast, plan)) == 2
    monkeypatch.setattr(services, "open_lines", lambda found: lines)
    assert accept(cast, plan) == []
    assert Booking.objects.count() == NeedBooking.objects.count() == 2
