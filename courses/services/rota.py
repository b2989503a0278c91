"""What a rota is made of: rooms with benches, kinds of sessions, hours, and rules."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime, time
from itertools import pairwise

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from academy.errors import Conflict, DomainError
from academy.models import Academy, Membership
from academy.services.audit import record
from courses.models import (
    Bench,
    Booking,
    ClosedDay,
    OpeningHours,
    Room,
    RotaRules,
    SessionKind,
    Skill,
    TaughtSkill,
    TimeAway,
    Weekday,
    WorkingHours,
)
from courses.planning.availability import Hours
from courses.selectors.bookings import HOLDING

MOST_BENCHES = 60
RULES = tuple(field.name for field in RotaRules._meta.concrete_fields if field.name not in {"id", "academy"})


@dataclass(frozen=True, slots=True)
class KindContent:
    name: str
    form: str
    minutes: int
    capacity: int


class NameTaken(DomainError):
    def __init__(self, what: str, name: str) -> None:
        super().__init__(
            "name_taken", f"There is already a {what} named {name}. Choose another name.", field="name"
        )


class BenchesWrong(DomainError):
    def __init__(self, message: str) -> None:
        super().__init__("benches_wrong", message, field="benches")


class StillBooked(Conflict):
    def __init__(self, name: str) -> None:
        super().__init__("still_booked", f"{name} is still booked. Move or cancel its bookings first.")


class HoursOverlap(DomainError):
    def __init__(self, weekday: int) -> None:
        day = Weekday(weekday).label
        super().__init__("hours_overlap", f"The two times on {day} overlap. Join them or take one out.")


class HoursBackwards(DomainError):
    def __init__(self, weekday: int) -> None:
        day = Weekday(weekday).label
        super().__init__(
            "hours_backwards", f"On {day} the end is not after the start. Correct one of the two."
        )


class AwayBackwards(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "away_backwards", "The last day is before the first. Correct one of the two.", field="last_on"
        )


class RulesWrong(DomainError):
    def __init__(self, message: str, field: str) -> None:
        super().__init__("rules_wrong", message, field=field)


@transaction.atomic
def save_room(*, room: Room, name: str, benches: Sequence[str], actor: Membership, now: datetime) -> Room:
    """A new or changed room with exactly these benches; one taken out is retired, if nobody is booked."""
    names = _clean_names(benches)
    room.name = name
    _save(room, "room")
    there = {each.name: each for each in room.benches.select_for_update().filter(retired_at=None)}
    for gone in there.keys() - set(names):
        _retire(there[gone], now)
    Bench.objects.bulk_create(Bench(room=room, name=each) for each in names if each not in there)
    record(actor, "save_room", room, now=now, after={"name": name, "benches": names})
    return room


@transaction.atomic
def retire_room(*, room: Room, actor: Membership, now: datetime) -> None:
    for bench in room.benches.select_for_update().filter(retired_at=None):
        _retire(bench, now)
    room.retired_at = now
    room.save(update_fields=["retired_at"])
    record(actor, "retire_room", room, now=now)


@transaction.atomic
def save_kind(*, kind: SessionKind, content: KindContent, actor: Membership, now: datetime) -> SessionKind:
    """A new or changed kind of session; what is booked keeps its times."""
    for name, value in asdict(content).items():
        setattr(kind, name, value)
    _save(kind, "kind of session")
    record(actor, "save_kind", kind, now=now, after=asdict(content))
    return kind


@transaction.atomic
def retire_kind(*, kind: SessionKind, actor: Membership, now: datetime) -> None:
    """No longer offered; what is booked stays."""
    kind.retired_at = now
    kind.save(update_fields=["retired_at"])
    record(actor, "retire_kind", kind, now=now)


@transaction.atomic
def set_opening(*, academy: Academy, hours: Iterable[Hours], actor: Membership, now: datetime) -> None:
    """Replaces the opening hours of the week; what is booked stays."""
    rows = _checked(hours)
    OpeningHours.objects.filter(academy=academy).delete()
    OpeningHours.objects.bulk_create(OpeningHours(academy=academy, **asdict(each)) for each in rows)
    record(actor, "set_opening", academy, now=now, after=_told(rows))


@transaction.atomic
def set_working(
    *, educator: Membership, hours: Iterable[Hours], skills: Iterable[Skill], actor: Membership, now: datetime
) -> None:
    """Replaces an educator's hours of the week and the skills she may teach; what is booked stays."""
    rows, skills = _checked(hours), list(skills)
    WorkingHours.objects.filter(educator=educator).delete()
    WorkingHours.objects.bulk_create(WorkingHours(educator=educator, **asdict(each)) for each in rows)
    TaughtSkill.objects.filter(educator=educator).delete()
    TaughtSkill.objects.bulk_create(TaughtSkill(educator=educator, skill=each) for each in skills)
    told = {**_told(rows), "skills": [each.code for each in skills]}
    record(actor, "set_working", educator, now=now, after=told)


@transaction.atomic
def close_day(*, academy: Academy, on: date, reason: str, actor: Membership, now: datetime) -> ClosedDay:
    """Closed on this day; closing it again gives it the newer reason. What is booked stays until moved."""
    row, _ = ClosedDay.objects.update_or_create(academy=academy, on=on, defaults={"reason": reason})
    record(actor, "close_day", row, now=now, after={"on": on.isoformat()})
    return row


@transaction.atomic
def open_day(*, closed: ClosedDay, actor: Membership, now: datetime) -> None:
    record(actor, "open_day", closed, now=now, before={"on": closed.on.isoformat()})
    closed.delete()


@transaction.atomic
def add_time_away(
    *, educator: Membership, first_on: date, last_on: date, actor: Membership, now: datetime
) -> TimeAway:
    """Both days included; a time away from the same first day is replaced."""
    if last_on < first_on:
        raise AwayBackwards
    row, _ = TimeAway.objects.update_or_create(
        educator=educator, first_on=first_on, defaults={"last_on": last_on}
    )
    record(actor, "add_time_away", row, now=now, after={"from": str(first_on), "to": str(last_on)})
    return row


@transaction.atomic
def drop_time_away(*, away: TimeAway, actor: Membership, now: datetime) -> None:
    record(actor, "drop_time_away", away, now=now, before={"from": str(away.first_on)})
    away.delete()


@transaction.atomic
def change_rules(
    *, academy: Academy, changes: Mapping[str, int], actor: Membership, now: datetime
) -> RotaRules:
    Academy.objects.select_for_update().get(pk=academy.pk)
    rules = RotaRules.objects.filter(academy=academy).first() or RotaRules(academy=academy)
    for name in RULES:
        setattr(rules, name, changes.get(name, getattr(rules, name)))
    if rules.spacing_days_low > rules.spacing_days_high:
        raise RulesWrong("The fewest days between sessions are more than the most.", "spacing_days_low")
    try:
        rules.full_clean(validate_unique=False)
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        raise RulesWrong(messages[0], field) from error
    rules.save()
    record(actor, "change_rules", rules, now=now, after={name: getattr(rules, name) for name in RULES})
    return rules


@transaction.atomic
def install_starter_rota(*, academy: Academy, actor: Membership, now: datetime) -> None:
    """Kinds of sessions and weekday hours to start from: common practice, no source. Rooms are entered."""
    starters = (
        KindContent("Supervised bench", SessionKind.Form.SUPERVISED_BENCH, 90, 2),
        KindContent("Group drill", SessionKind.Form.GROUP_DRILL, 60, 6),
        KindContent("Live-model day", SessionKind.Form.LIVE_MODEL_DAY, 240, 1),
    )
    for content in starters:
        save_kind(kind=SessionKind(academy=academy), content=content, actor=actor, now=now)
    hours = [Hours(day, time(9), time(17)) for day in range(5)]
    set_opening(academy=academy, hours=hours, actor=actor, now=now)


def _save(row: Room | SessionKind, what: str) -> None:
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError as error:
        raise NameTaken(what, row.name) from error


def _retire(bench: Bench, now: datetime) -> None:
    if Booking.objects.filter(bench=bench, state__in=HOLDING, ends_at__gt=now).exists():
        raise StillBooked(bench.name)
    bench.retired_at = now
    bench.save(update_fields=["retired_at"])


def _clean_names(benches: Sequence[str]) -> list[str]:
    names = [each.strip() for each in benches if each.strip()]
    if len(names) > MOST_BENCHES:
        raise BenchesWrong(f"A room has at most {MOST_BENCHES} benches here. Make a second room of it.")
    if long := next((each for each in names if len(each) > 40), None):
        raise BenchesWrong(f"The name {long[:40]}… is too long. Give each bench at most 40 characters.")
    if len({each.casefold() for each in names}) < len(names):
        raise BenchesWrong("Two benches have the same name. Give each its own.")
    return names


def _checked(hours: Iterable[Hours]) -> list[Hours]:
    rows = sorted(hours, key=lambda each: (each.weekday, each.starts))
    for each in rows:
        if each.ends <= each.starts:
            raise HoursBackwards(each.weekday)
    for before, after in pairwise(rows):
        if before.weekday == after.weekday and after.starts < before.ends:
            raise HoursOverlap(after.weekday)
    return rows


def _told(rows: Iterable[Hours]) -> dict[str, object]:
    return {"hours": [f"{each.weekday} {each.starts:%H:%M}-{each.ends:%H:%M}" for each in rows]}
