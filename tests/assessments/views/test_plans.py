from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from courses.models import Booking, ProposalLine, RotaProposal
from courses.services.planning import GRACE
from tests.factories.academy import Cast
from tests.factories.needs import make_need
from tests.factories.plans import make_plan
from tests.factories.rota import make_rota


def asked(client, django_capture_on_commit_callbacks) -> RotaProposal:
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(reverse("assessments:plan-list"), {"weeks": 2, "time_limit_s": 10})
    assert answer.status_code == 302
    return RotaProposal.objects.latest("made_at")


def test_a_plan_is_asked_for_computed_and_accepted_whole(
    client_for, cast: Cast, django_capture_on_commit_callbacks
):
    make_rota(cast)
    make_need(cast.ada, cast.ines)
    client = client_for(cast.ines)
    plan = asked(client, django_capture_on_commit_callbacks)
    shown = client.get(reverse("assessments:plan", args=[plan.uid])).content.decode()
    assert f"New for {cast.ada.name}" in shown and "plan-block--new" in shown
    assert "Accept all 1 change" in shown and not Booking.objects.exists()
    answer = client.post(
        reverse("assessments:plan-decide", args=[plan.uid]), {"decision": "accept"}, follow=True
    )
    assert "1 line accepted" in answer.content.decode()
    assert Booking.objects.get().state == "proposed"


def test_a_line_is_refused_by_itself(client_for, cast: Cast, django_capture_on_commit_callbacks):
    make_rota(cast)
    make_need(cast.ada, cast.ines)
    client = client_for(cast.ines)
    plan = asked(client, django_capture_on_commit_callbacks)
    given = {"decision": "refuse", "line": plan.lines.get().pk}
    client.post(reverse("assessments:plan-decide", args=[plan.uid]), given)
    assert plan.lines.get().state == "refused"
    assert not Booking.objects.exists()


def test_what_has_changed_since_is_told_and_left_alone(
    client_for, cast: Cast, django_capture_on_commit_callbacks
):
    rota = make_rota(cast)
    make_need(cast.ada, cast.ines)
    client = client_for(cast.ines)
    plan = asked(client, django_capture_on_commit_callbacks)
    for bench in rota.benches:
        bench.retired_at = timezone.now()
        bench.save()
    answer = client.post(
        reverse("assessments:plan-decide", args=[plan.uid]), {"decision": "accept"}, follow=True
    )
    shown = answer.content.decode()
    assert "1 has changed since the plan was computed" in shown
    assert "changed since" in shown and "Nothing was done here." in shown
    assert not Booking.objects.exists()


def test_while_it_is_computed_the_page_says_how_far_it_is_with_and_without_script(client_for, cast: Cast):
    plan = make_plan(cast.ines, state="computing", progress=40, made_at=timezone.now(), ready_at=None)
    client, url = client_for(cast.ines), reverse("assessments:plan", args=[plan.uid])
    shown = client.get(url).content.decode()
    assert "40 % of the time used." in shown and "Reload" in shown
    told = client.get(url, headers={"accept": "application/json"}).json()
    assert told == {"state": "working", "words": "40 % of the time used.", "done": 40}


def test_one_that_was_cut_short_says_so(client_for, cast: Cast):
    long_ago = timezone.now() - GRACE - timedelta(seconds=30)
    plan = make_plan(cast.ines, state="computing", made_at=long_ago)
    shown = client_for(cast.ines).get(reverse("assessments:plan", args=[plan.uid])).content.decode()
    assert "cut short, and nothing was changed" in shown


def test_a_second_plan_is_refused_in_a_sentence(client_for, cast: Cast):
    make_plan(cast.ines, state="computing", made_at=timezone.now())
    answer = client_for(cast.ines).post(reverse("assessments:plan-list"), {"weeks": 2, "time_limit_s": 10})
    assert "A plan is being computed already" in answer.content.decode()


@pytest.mark.parametrize("given", [{}, {"decision": "burn"}, {"decision": "accept", "line": "x"}])
def test_a_decision_that_cannot_be_read_changes_nothing(client_for, cast: Cast, given):
    plan = make_plan(cast.ines)
    answer = client_for(cast.ines).post(
        reverse("assessments:plan-decide", args=[plan.uid]), given, follow=True
    )
    assert "Choose a line" in answer.content.decode()


def test_a_line_of_another_plan_is_not_decided_here(client_for, cast: Cast):
    plan, other = make_plan(cast.ines), make_plan(cast.ines)
    line = ProposalLine.objects.create(proposal=other, position=0, change="new", student=cast.ada)
    client_for(cast.ines).post(
        reverse("assessments:plan-decide", args=[plan.uid]), {"decision": "refuse", "line": line.pk}
    )
    line.refresh_from_db()
    assert line.state == "open"


def test_the_page_costs_as_many_queries_for_many_lines_as_for_one(client_for, cast: Cast, count_queries):
    plan = make_plan(cast.ines)
    client, url = client_for(cast.ines), reverse("assessments:plan", args=[plan.uid])

    def add(count: int) -> None:
        first = plan.lines.count()
        ProposalLine.objects.bulk_create(
            ProposalLine(
                proposal=plan,
                position=first + nth,
                change="new",
                student=cast.ada,
                content={"starts": 29_550_000 + 90 * nth, "ends": 29_550_060 + 90 * nth},
                words="New.",
            )
            for nth in range(count)
        )

    add(1)
    one = count_queries(client, url)
    add(19)
    assert count_queries(client, url) == one
