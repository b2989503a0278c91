"""Academies and cohorts: settings that make sense, names that are unique, a record of what changed."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from academy.models import Academy, AuditEntry, Cohort, Role
from academy.services.academies import (
    AcademyDetails,
    CohortEndsBeforeStart,
    CohortNameTaken,
    RangeUpsideDown,
    TimeZoneNotKnown,
    add_cohort,
    change_academy,
    change_cohort,
    details_of,
    open_academy,
)
from tests.factories.academy import make_cohort

pytestmark = pytest.mark.django_db


def test_a_new_academy_has_one_owner(now):
    details = AcademyDetails(name="Tern Quay Lash Room", time_zone="Europe/Lisbon")
    owner = open_academy(details=details, owner_name="Pia Rusk", owner_email="pia@people.example", now=now)
    assert (owner.role, owner.academy.name, owner.user.email) == (
        Role.OWNER,
        details.name,
        "pia@people.example",
    )
    assert details_of(Academy.objects.get()) == details


def test_somebody_with_an_account_opens_a_second_academy_with_it(cast, now):
    details = AcademyDetails(name="Tern Quay Annex")
    owner = open_academy(details=details, owner_name="-", owner_email=cast.omar.user.email, now=now)
    assert owner.user == cast.omar.user


def test_only_what_differs_is_recorded(cast, now):
    wanted = replace(details_of(cast.academy), time_zone="Europe/Lisbon", room_c_low=Decimal("19.5"))
    academy = change_academy(actor=cast.owner, details=wanted, now=now)
    assert details_of(academy) == wanted
    entry = AuditEntry.objects.get()
    assert entry.before == {"time_zone": "UTC", "room_c_low": "20.0"}
    assert entry.after == {"time_zone": "Europe/Lisbon", "room_c_low": "19.5"}


def test_saving_the_same_settings_leaves_no_trace(cast, now):
    change_academy(actor=cast.owner, details=details_of(cast.academy), now=now)
    assert not AuditEntry.objects.exists()


def test_a_change_touches_no_other_academy(cast, now):
    before = details_of(Academy.objects.get(pk=cast.other_academy.pk))
    change_academy(actor=cast.owner, details=AcademyDetails(name="Marram Lane", drill_days=9), now=now)
    assert details_of(Academy.objects.get(pk=cast.other_academy.pk)) == before


# Names from the IANA time zone database, and what is not one of them.
@pytest.mark.parametrize("zone", ["Europe/Lisbon", "America/Argentina/Buenos_Aires", "Asia/Kolkata", "UTC"])
def test_time_zones_of_the_iana_database_are_known(cast, now, zone):
    wanted = replace(details_of(cast.academy), time_zone=zone)
    assert change_academy(actor=cast.owner, details=wanted, now=now).time_zone == zone


@pytest.mark.parametrize("zone", ["", "Lisbon", "GMT+25", "../../etc/passwd", "europe/lisbon "])
def test_other_time_zones_are_refused_by_name(cast, now, zone):
    with pytest.raises(TimeZoneNotKnown) as refusal:
        change_academy(actor=cast.owner, details=replace(details_of(cast.academy), time_zone=zone), now=now)
    assert refusal.value.details == {"field": "time_zone"}


@pytest.mark.parametrize(
    ("wrong", "field"),
    [({"room_c_low": Decimal(23)}, "room_c_high"), ({"room_rh_low": 61}, "room_rh_high")],
)
def test_a_range_that_is_upside_down_is_refused(cast, now, wrong, field):
    with pytest.raises(RangeUpsideDown) as refusal:
        change_academy(actor=cast.owner, details=replace(details_of(cast.academy), **wrong), now=now)
    assert refusal.value.details == {"field": field}


def test_a_cohort_is_added_and_changed_on_record(cast, now):
    cohort = add_cohort(
        actor=cast.owner, name="Autumn day", starts_on=date(2026, 9, 7), ends_on=None, now=now
    )
    changed = change_cohort(
        actor=cast.owner,
        cohort=cohort,
        name="Autumn day",
        starts_on=cohort.starts_on,
        ends_on=date(2026, 12, 11),
        now=now,
    )
    assert changed.academy == cast.academy
    last = AuditEntry.objects.first()
    assert last and (last.before["ends_on"], last.after["ends_on"]) == (None, "2026-12-11")


def test_two_cohorts_of_one_academy_have_different_names(cast, now):
    with pytest.raises(CohortNameTaken):
        add_cohort(actor=cast.owner, name=cast.cohort.name, starts_on=date(2026, 9, 7), ends_on=None, now=now)
    other = make_cohort(cast.academy, "Autumn day")
    with pytest.raises(CohortNameTaken):
        change_cohort(
            actor=cast.owner,
            cohort=other,
            name=cast.cohort.name,
            starts_on=other.starts_on,
            ends_on=None,
            now=now,
        )
    assert Cohort.objects.filter(name=cast.cohort.name).count() == 1


def test_another_academy_may_use_the_same_cohort_name(cast, now):
    add_cohort(actor=cast.omar, name=cast.cohort.name, starts_on=date(2026, 9, 7), ends_on=None, now=now)
    assert Cohort.objects.filter(name=cast.cohort.name).count() == 2


def test_a_cohort_does_not_end_before_it_starts(cast, now):
    with pytest.raises(CohortEndsBeforeStart):
        add_cohort(
            actor=cast.owner,
            name="Autumn day",
            starts_on=date(2026, 9, 7),
            ends_on=date(2026, 9, 6),
            now=now,
        )
