from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from assessments.models import DrillCount, Need, NeedRules
from assessments.services.needs import change_need_rules
from courses.models import Booking, Drill, Skill
from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_entry, make_graded_set
from tests.factories.needs import make_need
from tests.factories.rota import add_hours, make_rota
from tests.factories.second_marks import give_second_mark

NOW = timezone.now()


def page(client, name, *args):
    answer = client.get(reverse(f"assessments:{name}", args=args))
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_list_names_who_what_why_and_when(client_for, cast: Cast):
    make_need(cast.ada, cast.ines)
    shown = page(client_for(cast.ines), "need-list")
    assert cast.ada.name in shown and "She asked to go through it again." in shown and "overdue" in shown


def test_an_empty_list_says_what_raises_a_need(client_for, cast: Cast):
    assert "Nobody needs retraining" in page(client_for(cast.ines), "need-list")


def test_a_filter_that_finds_nobody_leads_back(client_for, cast: Cast):
    make_need(cast.ada, cast.ines)
    answer = client_for(cast.ines).get(reverse("assessments:need-list"), {"kind": "weak"})
    assert "No such need" in answer.content.decode()


def test_whoever_marks_a_student_blind_sees_none_of_her_needs(client_for, bench: Bench, cast: Cast):
    grade = make_graded_set(bench, entry=make_entry(levels={"isolation": 1}))
    need = Need.objects.get(kind="failed_gate")
    give_second_mark(grade, cast.second)
    client = client_for(cast.second)
    listed = page(client, "need-list")
    assert need.reason not in listed and "blind" in listed
    assert need.reason not in page(client, "student-needs", cast.ada.pk)
    assert need.reason not in page(client, "need-count", need.pk)


def test_a_student_sees_her_needs_with_their_picture_and_how_they_close(client_for, bench: Bench, cast: Cast):
    make_graded_set(bench, entry=make_entry(levels={"isolation": 1}))
    shown = page(client_for(cast.ada), "next")
    assert "the gate needs 2" in shown and "<svg" in shown and "(guide)" in shown
    assert "with a graded set that shows it" in shown
    assert "Record a count" not in shown


def test_asking_for_practice_keeps_what_was_typed_when_refused(client_for, cast: Cast):
    make_need(cast.ada, cast.ines)
    client = client_for(cast.ines)
    given = {"skill": Skill.objects.all()[0].pk, "due_on": "2020-01-01", "priority": 3, "reason": "Because"}
    answer = client.post(reverse("assessments:need-raise", args=[cast.ada.pk]), given)
    assert answer.status_code == 200
    assert "This day is over" in answer.content.decode() and "Because" in answer.content.decode()


def test_practice_is_asked_for_and_shown(client_for, cast: Cast):
    need = make_need(cast.bea, cast.ines)  # loads the catalogue
    client = client_for(cast.ines)
    due = (timezone.now() + timedelta(days=5)).date()
    given = {
        "skill": need.skill_id,
        "drill": Drill.objects.all()[0].pk,
        "due_on": due,
        "priority": 4,
        "reason": "Before the live-model day",
    }
    answer = client.post(reverse("assessments:need-raise", args=[cast.ada.pk]), given, follow=True)
    assert "Before the live-model day" in answer.content.decode()
    assert Need.objects.get(student=cast.ada).due_on == due


def test_a_count_is_recorded_and_closes_at_its_target(client_for, cast: Cast):
    need = make_need(cast.ada, cast.ines)
    client = client_for(cast.ines)
    url = reverse("assessments:need-count", args=[need.pk])
    refused = client.post(url, {"done": 5, "clean_count": 6})
    assert "Correct the counts" in refused.content.decode()
    answer = client.post(url, {"done": 25, "clean_count": 20}, follow=True)
    assert "20 of 25 clean, counted by" in answer.content.decode()
    assert DrillCount.objects.get().recorded_by == cast.ines
    assert client.get(url).status_code == 404


@pytest.mark.parametrize("days", ["7, x", "28, 7"])
def test_rules_that_cannot_be_are_told_beside_their_field(client_for, cast: Cast, days):
    client = client_for(cast.owner)
    form = client.get(reverse("assessments:need-rules")).context["form"]
    given = {name: form.initial.get(name, "") for name in form.fields} | {"retest_days": days}
    answer = client.post(reverse("assessments:need-rules"), given)
    assert answer.status_code == 200 and answer.context["form"].errors["retest_days"]
    assert not NeedRules.objects.exists()


def test_the_rules_that_are_shown_can_be_saved_as_they_are(client_for, cast: Cast):
    change_need_rules(academy=cast.academy, rules={"certainty": 0.8}, actor=cast.owner, now=NOW)
    client = client_for(cast.owner)
    form = client.get(reverse("assessments:need-rules")).context["form"]
    given = {name: form.initial[name] for name in form.fields}
    assert client.post(reverse("assessments:need-rules"), given).status_code == 302
    assert NeedRules.objects.count() == 1


def test_a_place_booked_from_a_need_belongs_to_it(client_for, cast: Cast):
    rota = make_rota(cast)
    add_hours(cast.owner)
    need = make_need(cast.ada, cast.ines)
    client = client_for(cast.ines)
    query = {
        "student": cast.ada.pk,
        "kind": rota.supervised.pk,
        "skill": need.skill_id,
        "first_on": timezone.now().date(),
        "need": need.pk,
    }
    url = reverse("assessments:booking-new", query=query)
    offer = client.get(url).context["days"][0][1][0]
    given = {"starts_at": offer.starts_at.isoformat(), "educator": offer.educator.pk, "bench": offer.bench.pk}
    assert client.post(url, given).status_code == 302
    booking = Booking.objects.get()
    assert (booking.for_need.need, booking.drill) == (need, need.drill)


def test_another_students_need_in_the_address_is_ignored(client_for, cast: Cast):
    rota = make_rota(cast)
    need = make_need(cast.bea, cast.ines)
    client = client_for(cast.ada)
    query = {
        "kind": rota.supervised.pk,
        "skill": need.skill_id,
        "first_on": timezone.now().date(),
        "need": need.pk,
    }
    url = reverse("assessments:my-booking-new", query=query)
    offer = client.get(url).context["days"][0][1][0]
    given = {"starts_at": offer.starts_at.isoformat(), "educator": offer.educator.pk, "bench": offer.bench.pk}
    assert client.post(url, given).status_code == 302
    assert not need.bookings.exists()
