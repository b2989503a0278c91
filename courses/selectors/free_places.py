"""Where one more session would fit: hours, benches, educators and bookings, gathered for the decision."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from academy.models import Academy, Membership
from courses.models import Bench, Booking, Claim, SessionKind, Skill
from courses.planning.availability import Span, quarters
from courses.planning.free_places import FreePlace, Held, Wanted, free_places
from courses.selectors.rota import benches, educators, free_spans, taught_skills, working_spans


@dataclass(frozen=True, slots=True)
class Offer:
    """A place as people see it."""

    place: FreePlace
    educator: Membership
    bench: Bench

    @property
    def starts_at(self) -> datetime:
        return self.place.starts


def offers_for(
    student: Membership,
    kind: SessionKind,
    skill: Skill | None,
    days: tuple[date, date],
    *,
    earliest: datetime,
    moved: Booking | None = None,
) -> list[Offer]:
    """Every start within ``days`` (both included) at which the student could have such a session.

    ``moved``: what it takes the place of holds nothing, and its own start is no other time.
    Ten queries for any number of days. A student who has entered no free times is taken to be free whenever
    the academy is open: she chooses herself.
    """
    academy, (first_on, last_on) = student.academy, days
    working = working_spans(academy, first_on, last_on)
    told = free_spans(academy, first_on, last_on, [student.pk])
    people = {each.pk: each for each in educators(academy)}
    taught = taught_skills(academy)
    able = [key for key in people if skill is None or skill.pk in taught.get(key, frozenset())]
    places = {each.pk: each for each in benches(academy)}
    wanted = Wanted(
        student=student.pk,
        minutes=kind.minutes,
        capacity=kind.capacity,
        educators=able,
        free=told.get(student.pk, [_whole_days(academy, first_on, last_on)]),
        earliest=earliest,
    )
    found = free_places(wanted, _held(academy, days, moved), working, list(places))
    offers = [Offer(place, people[place.educator], places[place.bench]) for place in found]
    return [each for each in offers if moved is None or each.starts_at != moved.starts_at]


def _held(academy: Academy, days: tuple[date, date], moved: Booking | None) -> Held:
    """One query; a claim says nothing of the academy, so its booking does."""
    whole = _whole_days(academy, *days)
    needed = quarters(whole.starts, whole.ends)
    rows = Claim.objects.filter(booking__academy=academy, quarter__gte=needed.start, quarter__lt=needed.stop)
    if moved:
        rows = rows.exclude(booking=moved)
    benches_held: set[tuple[int, int]] = set()
    students: set[tuple[int, int]] = set()
    seats: dict[tuple[int, int], list[int]] = {}
    for what, whom, quarter, capacity in rows.values_list(
        "what", "whom", "quarter", "booking__kind__capacity"
    ):
        if what == Claim.What.BENCH:
            benches_held.add((whom, quarter))
        elif what == Claim.What.STUDENT:
            students.add((whom, quarter))
        elif what == Claim.What.EDUCATOR:
            seats.setdefault((whom, quarter), []).append(capacity)
    return Held(benches_held, students, seats)


def _whole_days(academy: Academy, first_on: date, last_on: date) -> Span:
    """From the first midnight to the last."""
    zone = ZoneInfo(academy.time_zone)
    starts, ends = (
        datetime.combine(day, time.min, zone).astimezone(UTC)
        for day in (first_on, last_on + timedelta(days=1))
    )
    return Span(starts, ends)
