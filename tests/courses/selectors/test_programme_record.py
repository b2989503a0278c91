from datetime import timedelta
from decimal import Decimal

from django.db import connection
from django.test.utils import CaptureQueriesContext

from courses.selectors.enrolments import open_enrolment
from courses.selectors.programme_record import programme_record
from courses.services.enrolments import move_enrolment
from courses.services.sign_offs import sign_off
from tests.factories.programmes import ATTENDED, make_enrolment, make_hours, make_programme, next_version


def test_a_record_tells_what_is_left_of_hours_and_units(cast, now):
    """Minn. R. 2110.0580, text of December 2024: 8 theory and 6 practical hours."""
    version = make_programme(cast.owner, theory_hours=Decimal(8), practical_hours=Decimal(6))
    enrolment = make_enrolment(cast.ada, cast.owner, version)
    make_hours(enrolment, cast.ines, minutes=300)
    make_hours(enrolment, cast.ines, kind="online", minutes=60)
    make_hours(enrolment, cast.ines, kind="practical", minutes=400, on=ATTENDED + timedelta(days=1))
    hygiene = list(version.units.filter(code="hygiene"))
    sign_off(enrolment=enrolment, units=hygiene, passed=True, actor=cast.ines, now=now)
    record = programme_record(enrolment)
    assert [(each.name, each.minutes, each.asked, each.left) for each in record.progress] == [
        ("Theory", 360, 480, 120),
        ("Practical", 400, 360, 0),
    ]
    assert record.kinds == [("Theory in the room", 300), ("Practical", 400), ("Theory online", 60)]
    assert (record.passed, record.before_live_missing) == (1, 1)


def test_a_record_is_read_in_four_queries_whatever_it_holds(cast, now):
    first = make_programme(cast.owner)
    enrolment = make_enrolment(cast.ada, cast.owner, first)
    for day in range(3):
        make_hours(enrolment, cast.ines, on=ATTENDED + timedelta(days=day))
    move_enrolment(
        enrolment=enrolment,
        version=next_version(first, cast.owner),
        reason="why",
        actor=cast.owner,
        now=now,
    )
    found = open_enrolment(cast.ada)
    with CaptureQueriesContext(connection) as asked:
        record = programme_record(found)
        assert len(record.ledger) == 3
        assert [(move.from_version.number, move.to_version.number) for move in record.moves] == [(1, 2)]
    assert len(asked) == 4
