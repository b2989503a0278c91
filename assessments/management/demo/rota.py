"""The demo's rota: rooms, hours, when students can come, and places booked last week and ahead."""

from datetime import datetime, time, timedelta
from typing import Any

from academy.models import Membership
from assessments.management.demo import story
from assessments.management.demo.academy import School
from courses.models import Room, SessionKind, Skill
from courses.planning.availability import Hours
from courses.selectors.free_places import offers_for
from courses.services.booking_checks import Place
from courses.services.bookings import book, mark_attended, mark_missed, propose_booking
from courses.services.free_times import set_usual_week
from courses.services.rota import close_day, install_starter_rota, save_room, set_opening, set_working


def tell_rota(school: School, now: datetime) -> None:
    told, owner = story.school()["rota"], school.owner
    opened = now - timedelta(days=story.school()["opened_days_ago"])
    install_starter_rota(academy=owner.academy, actor=owner, now=opened)
    for row in told["rooms"]:
        room = Room(academy=owner.academy)
        save_room(room=room, name=row["name"], benches=row["benches"], actor=owner, now=opened)
    set_opening(academy=owner.academy, hours=_hours(told["opening"]), actor=owner, now=opened)
    skills = list(Skill.objects.all())
    for educator in school.educators:
        hours = _hours(told["working"][educator.user.email])
        set_working(educator=educator, hours=hours, skills=skills, actor=owner, now=opened)
    closed = owner.academy.date_of(now + timedelta(days=told["closed_in_days"]))
    close_day(academy=owner.academy, on=closed, reason="Deep clean", actor=owner, now=now)
    for student in school.students.values():
        if student.cohort:
            set_usual_week(student=student, hours=_free(told["free"][student.cohort.name]), now=opened)
    for row in told["held"]:
        _hold(school, row, now)
    for row in told["booked"]:
        _book(school, row, now)


def _hold(school: School, row: dict[str, Any], now: datetime) -> None:
    """A session of that day, booked a week before; none on a day on which nobody could come."""
    on, asked = now - timedelta(days=row["days_ago"]), now - timedelta(days=row["days_ago"] + 7)
    place = _place(school, row, (on, on), asked)
    if place and place.ends_at < now:
        booking = book(place=place, actor=place.educator, live_allowed=False, now=asked)
        mark = mark_attended if row["came"] else mark_missed
        mark(booking=booking, actor=place.educator, now=place.ends_at)


def _book(school: School, row: dict[str, Any], now: datetime) -> None:
    """The first place from that day on which fits; nothing when the week is full."""
    first = now + timedelta(days=row["in_days"])
    place = _place(school, row, (first, first + timedelta(days=6)), now)
    if place:
        make = propose_booking if row["state"] == "proposed" else book
        make(place=place, actor=place.educator, live_allowed=False, now=now)


def _place(
    school: School, row: dict[str, Any], between: tuple[datetime, datetime], asked: datetime
) -> Place | None:
    """The first that was free when it was asked for."""
    student: Membership = school.students[row["email"]]
    kind = SessionKind.objects.get(academy=student.academy, form=SessionKind.Form.SUPERVISED_BENCH)
    skill = Skill.objects.get(code=row["skill"])
    first_on, last_on = (student.academy.date_of(at) for at in between)
    for offer in offers_for(student, kind, skill, (first_on, last_on), earliest=asked):
        return Place(student, offer.educator, offer.bench, kind, offer.starts_at, skill=skill)
    return None


def _hours(rows: list[tuple[int, str, str]]) -> list[Hours]:
    return [Hours(day, time.fromisoformat(starts), time.fromisoformat(ends)) for day, starts, ends in rows]


def _free(rows: list[tuple[int, int, int]]) -> set[tuple[int, int]]:
    return {(day, hour) for day, first, last in rows for hour in range(first, last)}
