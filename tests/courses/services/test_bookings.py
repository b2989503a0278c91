from datetime import date, timedelta
from typing import Any

import pytest

from academy.models import AuditEntry, Role
from courses.models import (
    Booking,
    BookingChange,
    Claim,
    ClosedDay,
    RotaRules,
    Skill,
    TaughtSkill,
    TimeAway,
)
from courses.services import bookings as services
from courses.services.booking_checks import (
    AcademyClosed,
    AlreadyPast,
    BookingChangedSince,
    BookingMovedOn,
    EducatorNotQualified,
    EducatorNotThere,
    LiveModelsNotYet,
    NotOnTheQuarter,
    NotYourBooking,
    TooFarAhead,
    TooLateToChange,
    TooManyBookings,
)
from courses.services.bookings import (
    NotBegunYet,
    StaffOnly,
    accept_booking,
    book,
    cancel_booking,
    mark_attended,
    mark_missed,
    move_booking,
    propose_booking,
)
from courses.services.claims import PlaceTaken
from tests.factories.academy import Cast, make_member
from tests.factories.courses import make_head
from tests.factories.rota import MADE_AT, TEN, Rota, later, make_rota, place_for

NOW = MADE_AT


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


@pytest.fixture(autouse=True)
def letters(monkeypatch) -> list[int]:
    asked: list[int] = []

    def asked_for(path: str, **keys: int) -> None:
        if path == "courses.tasks.tell_booking_change":
            asked.append(keys["change_id"])

    monkeypatch.setattr(services, "enqueue", asked_for)
    return asked


def booked(cast: Cast, rota: Rota, **changes) -> Booking:
    return book(place=place_for(cast, rota, **changes), actor=cast.ines, live_allowed=False, now=NOW)


def moved(booking: Booking, place, actor, *, now=NOW, seen=None) -> Booking:
    seen = booking.sequence if seen is None else seen
    return move_booking(booking=booking, place=place, actor=actor, seen=seen, live_allowed=False, now=now)


def test_a_booking_holds_each_quarter_of_everything_it_needs(cast: Cast, rota: Rota):
    made = booked(cast, rota, head=make_head(cast.academy))
    held = set(Claim.objects.values_list("what", "whom", "seat"))
    assert held == {
        ("student", cast.ada.pk, 0),
        ("bench", rota.benches[0].pk, 0),
        ("head", made.head_id, 0),
        ("educator", cast.ines.pk, 0),
    }
    assert Claim.objects.filter(what="bench").count() == 6  # 90 minutes


def test_every_change_is_kept_audited_and_told_once(cast: Cast, rota: Rota, letters: list[int]):
    made = booked(cast, rota)
    moved(made, place_for(cast, rota, starts_at=later(2)), cast.ines)
    changes = BookingChange.objects.filter(booking=made)
    assert [change.kind for change in changes] == ["made", "moved"]
    assert letters == [change.pk for change in changes]
    actions = AuditEntry.objects.filter(object_id=str(made.pk)).order_by("pk")
    assert [entry.action for entry in actions] == ["booking_made", "booking_moved"]


@pytest.mark.parametrize(
    ("what", "other"),
    [
        ("bench", {"student": "bea", "educator": "second"}),
        ("student", {"bench": 1, "educator": "second"}),
    ],
)
def test_nothing_is_used_twice(cast: Cast, rota: Rota, what: str, other: dict[str, Any]):
    booked(cast, rota)
    changes = {
        name: rota.benches[given] if name == "bench" else getattr(cast, given)
        for name, given in other.items()
    }
    with pytest.raises(PlaceTaken) as told:
        booked(cast, rota, starts_at=later(1.25), **changes)
    assert told.value.details["what"] == what
    booked(cast, rota, starts_at=later(1.5), **changes)  # the moment the first one ends


def test_a_head_is_used_once_at_a_time(cast: Cast, rota: Rota):
    head = make_head(cast.academy)
    booked(cast, rota, head=head)
    with pytest.raises(PlaceTaken, match=head.name):
        booked(cast, rota, student=cast.bea, bench=rota.benches[1], educator=cast.second, head=head)


def test_an_educator_looks_after_as_many_as_the_kind_allows(cast: Cast):
    rota = make_rota(cast, benches=3)
    third = make_member(cast.academy, "Cleo Marsh")
    booked(cast, rota)
    booked(cast, rota, student=cast.bea, bench=rota.benches[1])
    with pytest.raises(PlaceTaken, match="Ines"):
        booked(cast, rota, student=third, bench=rota.benches[2])


def test_a_kind_for_fewer_students_limits_all_who_come_at_that_time(cast: Cast, rota: Rota):
    """A live model wants the educator's whole eye: nobody joins from a larger kind of session."""
    place = place_for(cast, rota, kind=rota.live)
    book(place=place, actor=cast.ines, live_allowed=True, now=NOW)
    with pytest.raises(PlaceTaken, match="Ines"):
        booked(cast, rota, student=cast.bea, bench=rota.benches[1], kind=rota.group)


def test_a_refused_booking_leaves_nothing_behind(cast: Cast, rota: Rota, letters: list[int]):
    booked(cast, rota)
    held, told = Claim.objects.count(), list(letters)
    with pytest.raises(PlaceTaken):
        booked(cast, rota, student=cast.bea, educator=cast.second)
    assert Booking.objects.count() == 1
    assert Claim.objects.count() == held
    assert letters == told


@pytest.mark.parametrize(
    ("starts", "refusal"),
    [
        (TEN.replace(minute=7), NotOnTheQuarter),
        (NOW - timedelta(days=7), AlreadyPast),
        (TEN.replace(hour=8), AcademyClosed),
        (TEN.replace(hour=16), AcademyClosed),
        (TEN - timedelta(days=1), AcademyClosed),
    ],
)
def test_a_time_that_cannot_be_is_refused(cast: Cast, rota: Rota, starts, refusal):
    with pytest.raises(refusal):
        booked(cast, rota, starts_at=starts)


def test_a_closed_day_is_closed(cast: Cast, rota: Rota):
    ClosedDay.objects.create(academy=cast.academy, on=TEN.date(), reason="Holiday")
    with pytest.raises(AcademyClosed):
        booked(cast, rota)


def test_an_educator_who_is_away_cannot_be_booked(cast: Cast, rota: Rota):
    TimeAway.objects.create(educator=cast.ines, first_on=date(2026, 3, 8), last_on=date(2026, 3, 9))
    with pytest.raises(EducatorNotThere, match="Ines"):
        booked(cast, rota)


def test_an_educator_teaches_only_what_is_entered_for_her(cast: Cast, rota: Rota):
    skill = Skill.objects.get(code="isolation")
    booked(cast, rota, skill=skill)
    TaughtSkill.objects.filter(educator=cast.second, skill=skill).delete()
    with pytest.raises(EducatorNotQualified, match="Tova"):
        booked(cast, rota, student=cast.bea, bench=rota.benches[1], educator=cast.second, skill=skill)


def test_a_live_model_day_waits_for_the_gate(cast: Cast, rota: Rota):
    with pytest.raises(LiveModelsNotYet, match="Ada"):
        booked(cast, rota, kind=rota.live)


def test_a_moved_booking_frees_its_old_place_and_rises_in_sequence(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    after = moved(made, place_for(cast, rota, starts_at=later(2)), cast.ines)
    assert (after.uid, after.sequence) == (made.uid, 1)
    booked(cast, rota, student=cast.bea)  # its old bench and time


def test_a_booking_can_be_moved_onto_part_of_its_own_time(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    assert moved(made, place_for(cast, rota, starts_at=later(0.5)), cast.ines).starts_at == later(0.5)


def test_a_move_to_a_taken_place_changes_nothing(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    booked(cast, rota, student=cast.bea, starts_at=later(2))
    with pytest.raises(PlaceTaken):
        moved(made, place_for(cast, rota, starts_at=later(2)), cast.ines)
    made.refresh_from_db()
    assert (made.starts_at, made.sequence) == (TEN, 0)
    assert made.claims.filter(what="bench").count() == 6


def test_who_looked_at_an_older_state_is_told(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    moved(made, place_for(cast, rota, starts_at=later(2)), cast.ines)
    with pytest.raises(BookingChangedSince):
        moved(made, place_for(cast, rota, starts_at=later(3)), cast.ines, seen=0)
    with pytest.raises(BookingChangedSince):
        cancel_booking(booking=made, actor=cast.ines, seen=0, now=NOW)


def test_a_cancelled_booking_frees_its_place_and_keeps_its_notice(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    cancel_booking(booking=made, actor=cast.ada, seen=0, reason="Ill", now=TEN - timedelta(hours=50.5))
    made.refresh_from_db()
    assert (made.state, made.sequence) == ("cancelled", 1)
    assert not made.claims.exists()
    newest = made.changes.last()
    assert newest
    assert (newest.notice_hours, newest.reason) == (50, "Ill")
    with pytest.raises(BookingMovedOn, match="cancelled"):
        cancel_booking(booking=made, actor=cast.ada, seen=1, now=NOW)


def test_a_student_changes_her_booking_only_in_time(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    late = TEN - timedelta(hours=47)
    with pytest.raises(TooLateToChange, match="48 hours"):
        cancel_booking(booking=made, actor=cast.ada, seen=0, now=late)
    with pytest.raises(TooLateToChange):
        moved(made, place_for(cast, rota, starts_at=later(2)), cast.ada, now=late)
    cancel_booking(booking=made, actor=cast.ines, seen=0, now=late)


def test_a_student_touches_nobody_elses_booking(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    with pytest.raises(NotYourBooking):
        cancel_booking(booking=made, actor=cast.bea, seen=0, now=NOW)
    with pytest.raises(NotYourBooking):
        book(place=place_for(cast, rota), actor=cast.bea, live_allowed=False, now=NOW)


def test_a_student_books_within_the_rules_of_the_academy(cast: Cast, rota: Rota):
    RotaRules.objects.create(academy=cast.academy, days_ahead=7, open_bookings=1)
    own: dict[str, Any] = {"actor": cast.ada, "live_allowed": False, "now": NOW}
    with pytest.raises(TooFarAhead, match="7 days"):
        book(place=place_for(cast, rota, starts_at=later(48)), **own)
    book(place=place_for(cast, rota, starts_at=later(-1)), **own)
    with pytest.raises(TooManyBookings):
        book(place=place_for(cast, rota, starts_at=TEN - timedelta(days=3)), **own)


def test_a_proposed_booking_holds_its_place_until_it_is_answered(cast: Cast, rota: Rota):
    made = propose_booking(place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=NOW)
    with pytest.raises(PlaceTaken):
        booked(cast, rota, student=cast.bea, educator=cast.second)
    with pytest.raises(NotYourBooking):
        accept_booking(booking=made, actor=cast.bea, seen=0, now=NOW)
    assert accept_booking(booking=made, actor=cast.ada, seen=0, now=NOW).state == "accepted"
    with pytest.raises(BookingMovedOn, match="accepted"):
        accept_booking(booking=made, actor=cast.ada, seen=0, now=NOW)


def test_a_proposed_booking_can_be_declined_at_any_time(cast: Cast, rota: Rota):
    made = propose_booking(place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=NOW)
    cancel_booking(booking=made, actor=cast.ada, seen=0, now=TEN - timedelta(hours=1))
    assert not Claim.objects.exists()


def test_who_came_is_said_by_an_educator_once_it_has_begun(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    with pytest.raises(NotBegunYet):
        mark_attended(booking=made, actor=cast.ines, now=TEN - timedelta(minutes=1))
    with pytest.raises(StaffOnly):
        mark_attended(booking=made, actor=cast.ada, now=later(1))
    mark_missed(booking=made, actor=cast.ines, now=later(1))
    assert mark_attended(booking=made, actor=cast.ines, now=later(2)).state == "attended"
    assert [change.kind for change in made.changes.all()] == ["made", "missed", "attended"]


def test_an_owner_may_do_what_an_educator_may(cast: Cast, rota: Rota):
    assert cast.owner.role == Role.OWNER
    assert book(place=place_for(cast, rota), actor=cast.owner, live_allowed=False, now=NOW).pk
