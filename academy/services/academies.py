"""Changes to an academy itself: opening one, its settings, its cohorts."""

from dataclasses import asdict, dataclass, fields
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import available_timezones

from django.db import IntegrityError, transaction

from academy.errors import DomainError
from academy.models import Academy, Cohort, Membership, Role
from academy.selectors.people import person_at
from academy.services.audit import record
from academy.services.people import add_person, take_place


@dataclass(frozen=True, slots=True)
class AcademyDetails:
    """What an owner may set. Temperatures in °C, humidity in % RH; both are guides for the bench."""

    name: str
    town: str = ""
    time_zone: str = "UTC"
    adhesive_days: int = 28
    room_c_low: Decimal = Decimal(20)
    room_c_high: Decimal = Decimal(22)
    room_rh_low: int = 40
    room_rh_high: int = 60
    drill_days: int = 7


class TimeZoneNotKnown(DomainError):
    def __init__(self, name: str) -> None:
        super().__init__(
            "time_zone_not_known",
            f"“{name}” is not a time zone we know. Write continent and city, for example Europe/Lisbon.",
            field="time_zone",
        )


class RangeUpsideDown(DomainError):
    def __init__(self, field: str) -> None:
        super().__init__(
            "range_upside_down",
            "The upper end of the range is below the lower end. Correct one of them.",
            field=field,
        )


class CohortNameTaken(DomainError):
    def __init__(self, name: str) -> None:
        super().__init__(
            "cohort_name_taken",
            f"There is already a cohort called “{name}”. Choose another name.",
            field="name",
        )


class CohortEndsBeforeStart(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "cohort_ends_before_start",
            "The cohort ends before it starts. Correct one of the dates.",
            field="ends_on",
        )


@transaction.atomic
def open_academy(
    *,
    details: AcademyDetails,
    owner_name: str,
    owner_email: str,
    owner_password: str | None = None,
    now: datetime,
) -> Membership:
    """A new academy with its first owner, who signs in with e-mailed codes unless a password is given."""
    _check(details)
    academy = Academy.objects.create(**asdict(details))
    person = person_at(owner_email) or add_person(email=owner_email, name=owner_name, password=owner_password)
    owner = take_place(academy=academy, user=person, role=Role.OWNER, cohort=None, now=now)
    record(owner, "open_academy", academy, now=now)
    return owner


@transaction.atomic
def change_academy(*, actor: Membership, details: AcademyDetails, now: datetime) -> Academy:
    """Change the settings of the actor's academy; the record keeps what differs, before and after."""
    _check(details)
    academy = Academy.objects.select_for_update().get(pk=actor.academy_id)
    wanted = asdict(details)
    changed = [name for name, value in wanted.items() if getattr(academy, name) != value]
    before = {name: _plain(getattr(academy, name)) for name in changed}
    for name in changed:
        setattr(academy, name, wanted[name])
    if changed:
        academy.save(update_fields=changed)
        after = {name: _plain(wanted[name]) for name in changed}
        record(actor, "change_academy", academy, now=now, before=before, after=after)
    return academy


def details_of(academy: Academy) -> AcademyDetails:
    return AcademyDetails(**{field.name: getattr(academy, field.name) for field in fields(AcademyDetails)})


@transaction.atomic
def add_cohort(
    *, actor: Membership, name: str, starts_on: date, ends_on: date | None, now: datetime
) -> Cohort:
    cohort = Cohort(academy=actor.academy, name=name, starts_on=starts_on, ends_on=ends_on)
    _save_cohort(cohort)
    record(actor, "add_cohort", cohort, now=now, after=_dates(cohort))
    return cohort


@transaction.atomic
def change_cohort(
    *, actor: Membership, cohort: Cohort, name: str, starts_on: date, ends_on: date | None, now: datetime
) -> Cohort:
    row = Cohort.objects.select_for_update().get(pk=cohort.pk)
    before = _dates(row)
    row.name, row.starts_on, row.ends_on = name, starts_on, ends_on
    if _dates(row) != before:
        _save_cohort(row)
        record(actor, "change_cohort", row, now=now, before=before, after=_dates(row))
    return row


def _check(details: AcademyDetails) -> None:
    if details.time_zone not in available_timezones():
        raise TimeZoneNotKnown(details.time_zone)
    if details.room_c_low > details.room_c_high:
        raise RangeUpsideDown("room_c_high")
    if details.room_rh_low > details.room_rh_high:
        raise RangeUpsideDown("room_rh_high")


def _save_cohort(cohort: Cohort) -> None:
    if cohort.ends_on and cohort.ends_on < cohort.starts_on:
        raise CohortEndsBeforeStart
    try:
        with transaction.atomic():
            cohort.save()
    except IntegrityError as error:
        raise CohortNameTaken(cohort.name) from error


def _dates(cohort: Cohort) -> dict[str, object]:
    ends_on = cohort.ends_on.isoformat() if cohort.ends_on else None
    return {"name": cohort.name, "starts_on": cohort.starts_on.isoformat(), "ends_on": ends_on}


def _plain(value: object) -> object:
    return str(value) if isinstance(value, Decimal) else value
