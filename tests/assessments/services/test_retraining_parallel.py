"""A signature that closes a need and a plan that books for it, at the same instant, on either database."""

from functools import partial

import pytest

from assessments.models import Need
from assessments.services import retraining as services
from assessments.services.needs import record_drill_count
from assessments.services.retraining import accept_plan, ask_for_plan, book_for_need, compute_plan
from courses.models import Booking
from courses.services import bookings as booking_services
from tests.factories.academy import Cast
from tests.factories.needs import make_need
from tests.factories.parallel import at_once
from tests.factories.rota import MADE_AT, make_rota, place_for

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch):
    for module in (booking_services, services):
        monkeypatch.setattr(module, "enqueue", lambda *args, **kwargs: None)


def test_counting_booking_and_accepting_at_once_end_without_a_deadlock(cast: Cast):
    rota = make_rota(cast)
    need, other = make_need(cast.ada, cast.ines), make_need(cast.bea, cast.ines)
    plan = ask_for_plan(academy=cast.academy, weeks=2, time_limit_s=10, actor=cast.ines, now=MADE_AT)
    compute_plan(proposal=plan, now=MADE_AT)
    place = place_for(cast, rota, student=cast.bea)
    at_once(
        partial(record_drill_count, need=need, done=20, clean_count=20, actor=cast.ines, now=MADE_AT),
        partial(accept_plan, proposal=plan, actor=cast.ines, now=MADE_AT),
        partial(accept_plan, proposal=plan, actor=cast.owner, now=MADE_AT),
        partial(book_for_need, need=other, place=place, actor=cast.ines, live_allowed=False, now=MADE_AT),
    )
    assert Need.objects.get(pk=need.pk).closed_at == MADE_AT
    assert Booking.objects.filter(student=cast.ada).count() <= 1
    assert Booking.objects.filter(student=cast.bea).count() in {
        1,
        2,
    }  # her own, and the plan's if it was first
    assert not plan.lines.filter(state="open").exists()
