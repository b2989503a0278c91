from datetime import timedelta

import pytest

from courses.models import Bench, Booking, BookingChange, Claim, ProposalLine, RotaProposal, Skill
from courses.selectors.planning import minutes
from courses.services import bookings as booking_services
from courses.services.bookings import cancel_booking, move_booking, propose_booking
from courses.services.plan_lines import (
    LineDecided,
    OthersFirst,
    PlanNotOpen,
    accept_line,
    accept_swap,
    refuse_line,
)
from tests.factories.academy import Cast
from tests.factories.plans import make_plan
from tests.factories.rota import MADE_AT, TEN, Rota, make_rota, place_for

NOW = MADE_AT


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch):
    monkeypatch.setattr(booking_services, "enqueue", lambda *args, **kwargs: None)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


@pytest.fixture
def plan(cast: Cast) -> RotaProposal:
    return make_plan(cast.ines)


def a_place(rota: Rota, cast: Cast, starts=TEN, bench: int = 0) -> dict[str, object]:
    return {
        "starts": minutes(starts),
        "ends": minutes(starts) + 90,
        "educator": cast.ines.pk,
        "bench": rota.benches[bench].pk,
        "head": None,
        "kind": rota.supervised.pk,
        "skill": Skill.objects.get(code="isolation").pk,
        "drill": None,
    }


def add_line(plan: RotaProposal, cast: Cast, change: str, booking=None, **content) -> ProposalLine:
    return ProposalLine.objects.create(
        proposal=plan,
        position=plan.lines.count(),
        change=change,
        student=booking.student if booking else cast.ada,
        need=7,
        booking=booking,
        basis=booking.sequence if booking else None,
        content=content,
        words="A line.",
    )


def booked(cast: Cast, rota: Rota, **changes) -> Booking:
    return propose_booking(
        place=place_for(cast, rota, **changes), actor=cast.ines, live_allowed=False, now=NOW
    )


def accept(line: ProposalLine, cast: Cast, *, is_wanted: bool = True):
    return accept_line(line=line, is_wanted=is_wanted, actor=cast.ines, live_allowed=False, now=NOW)


def state_of(line: ProposalLine) -> str:
    line.refresh_from_db()
    return line.state


def test_a_new_place_is_proposed_to_the_student(cast: Cast, rota: Rota, plan: RotaProposal):
    line = add_line(plan, cast, "new", **a_place(rota, cast))
    booking = accept(line, cast).booking
    assert (booking.state, booking.student, booking.starts_at) == ("proposed", cast.ada, TEN)
    assert state_of(line) == "accepted"


def test_a_booking_moves_and_a_cancelled_one_gives_its_place_up(cast: Cast, rota: Rota, plan: RotaProposal):
    first = booked(cast, rota)
    second = booked(cast, rota, student=cast.bea, bench=rota.benches[1])
    gone = add_line(plan, cast, "cancelled", second)
    moved = add_line(plan, cast, "moved", first, **a_place(rota, cast, TEN + timedelta(days=1)))
    accept(gone, cast)
    assert accept(moved, cast).booking.starts_at == TEN + timedelta(days=1)
    second.refresh_from_db()
    assert second.state == "cancelled"
    plan.refresh_from_db()
    assert plan.state == "closed"


def test_a_booking_that_changed_underneath_is_left_as_it_is(cast: Cast, rota: Rota, plan: RotaProposal):
    booking = booked(cast, rota)
    line = add_line(plan, cast, "moved", booking, **a_place(rota, cast, TEN + timedelta(days=1)))
    elsewhere = place_for(cast, rota, starts_at=TEN + timedelta(days=2))
    move_booking(booking=booking, place=elsewhere, actor=cast.ines, seen=0, live_allowed=False, now=NOW)
    assert accept(line, cast).booking is None
    assert state_of(line) == "overtaken"
    assert "changed this booking meanwhile" in line.content["overtaken"]
    booking.refresh_from_db()
    assert booking.starts_at == TEN + timedelta(days=2)


@pytest.mark.parametrize("change", ["moved", "cancelled"])
def test_a_booking_that_was_cancelled_underneath_stays_cancelled(
    cast: Cast, rota: Rota, plan: RotaProposal, change
):
    booking = booked(cast, rota)
    line = add_line(plan, cast, change, booking, **a_place(rota, cast, TEN + timedelta(days=1)))
    cancel_booking(booking=booking, actor=cast.ines, seen=0, now=NOW)
    before = BookingChange.objects.count()
    assert accept(line, cast).booking is None
    assert state_of(line) == "overtaken"
    assert BookingChange.objects.count() == before


def test_a_place_that_somebody_took_meanwhile_is_not_taken_from_her(
    cast: Cast, rota: Rota, plan: RotaProposal
):
    line = add_line(plan, cast, "new", **a_place(rota, cast))
    taken = booked(cast, rota, student=cast.bea)
    assert accept(line, cast).booking is None
    assert state_of(line) == "overtaken"
    assert list(Booking.objects.all()) == [taken]


def test_a_need_answered_meanwhile_gets_no_place(cast: Cast, rota: Rota, plan: RotaProposal):
    line = add_line(plan, cast, "new", **a_place(rota, cast))
    assert accept(line, cast, is_wanted=False).booking is None
    assert state_of(line) == "overtaken"
    assert not Booking.objects.exists()


def test_a_bench_out_of_use_is_told(cast: Cast, rota: Rota, plan: RotaProposal):
    line = add_line(plan, cast, "new", **a_place(rota, cast))
    Bench.objects.filter(pk=rota.benches[0].pk).update(retired_at=NOW)
    accept(line, cast)
    assert state_of(line) == "overtaken"
    assert "no longer in use" in line.content["overtaken"]


def test_who_must_make_way_goes_first(cast: Cast, rota: Rota, plan: RotaProposal):
    in_the_way = booked(cast, rota, student=cast.bea)
    line = add_line(plan, cast, "new", **a_place(rota, cast), after=[in_the_way.pk])
    away = add_line(plan, cast, "moved", in_the_way, **a_place(rota, cast, TEN + timedelta(days=1)))
    with pytest.raises(OthersFirst, match="Accept line 2"):
        accept(line, cast)
    assert state_of(line) == "open"
    accept(away, cast)
    assert accept(line, cast).booking is not None


class TestSwap:
    """Two bookings take each other's places."""

    @pytest.fixture
    def lines(self, cast: Cast, rota: Rota, plan: RotaProposal) -> list[ProposalLine]:
        late = TEN + timedelta(days=1)
        mine, hers = booked(cast, rota), booked(cast, rota, student=cast.bea, starts_at=late)
        return [
            add_line(plan, cast, "moved", mine, **a_place(rota, cast, late), after=[hers.pk]),
            add_line(plan, cast, "moved", hers, **a_place(rota, cast, TEN), after=[mine.pk]),
        ]

    def swap(self, cast: Cast, lines: list[ProposalLine]):
        return accept_swap(lines=lines, actor=cast.ines, live_allowed=False, now=NOW)

    def test_one_by_one_each_waits_for_the_other(self, cast: Cast, lines):
        for line in lines:
            with pytest.raises(OthersFirst):
                accept(line, cast)

    def test_together_they_go(self, cast: Cast, lines):
        done = self.swap(cast, lines)
        assert [each.booking.starts_at for each in done] == [TEN + timedelta(days=1), TEN]
        assert Claim.objects.filter(what="bench").count() == 12
        assert [state_of(line) for line in lines] == ["accepted", "accepted"]

    def test_when_one_has_changed_neither_moves_and_both_keep_their_places(
        self, cast: Cast, rota: Rota, lines
    ):
        hers = lines[1].booking
        away = place_for(cast, rota, student=cast.bea, starts_at=TEN + timedelta(days=2))
        move_booking(booking=hers, place=away, actor=cast.ines, seen=0, live_allowed=False, now=NOW)
        assert self.swap(cast, lines) == []
        assert [state_of(line) for line in lines] == ["open", "open"]
        held = {each.booking.starts_at for each in Claim.objects.filter(what="bench")}
        assert held == {TEN, TEN + timedelta(days=2)}


def test_refused_is_refused_and_decided_once(cast: Cast, rota: Rota, plan: RotaProposal):
    line = add_line(plan, cast, "new", **a_place(rota, cast))
    add_line(plan, cast, "new", **a_place(rota, cast, TEN + timedelta(days=1)))
    refuse_line(line=line, actor=cast.ines, now=NOW)
    assert state_of(line) == "refused"
    with pytest.raises(LineDecided):
        accept(line, cast)
    assert not Booking.objects.exists()


def test_what_stays_or_has_no_place_is_nothing_to_accept(cast: Cast, rota: Rota, plan: RotaProposal):
    with pytest.raises(LineDecided):
        accept(add_line(plan, cast, "unplaced", remedies=[]), cast)


@pytest.mark.parametrize("state", ["computing", "failed", "closed"])
def test_only_a_plan_that_is_ready_is_decided(cast: Cast, rota: Rota, plan: RotaProposal, state):
    line = add_line(plan, cast, "new", **a_place(rota, cast))
    RotaProposal.objects.filter(pk=plan.pk).update(state=state)
    with pytest.raises(PlanNotOpen):
        accept(line, cast)
