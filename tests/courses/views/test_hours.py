from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from courses.models import HoursEntry
from courses.selectors.hours import hours_total
from courses.services.enrolments import move_enrolment
from tests.factories.academy import make_cohort, make_member
from tests.factories.programmes import make_enrolment, make_hours, next_version

TYPED = {
    "kind": "practical",
    "on": "2026-02-03",
    "hours": "2",
    "minutes": "15",
    "note": "Removal",
    "unit": "",
}


@pytest.fixture
def enrolment(cast):
    return make_enrolment(cast.ada, cast.owner)


def test_hours_are_entered_for_a_unit(cast, client_for, enrolment):
    unit = enrolment.version.units.get(code="removal")
    url = reverse("courses:hours-enter", args=[cast.ada.pk])
    answer = client_for(cast.ines).post(url, TYPED | {"unit": unit.pk})
    assert answer["Location"] == reverse("courses:enrolment", args=[cast.ada.pk])
    entry = HoursEntry.objects.get()
    assert (entry.minutes, entry.kind, entry.unit, entry.entered_by) == (135, "practical", unit, cast.ines)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"on": (timezone.now() + timedelta(days=2)).date().isoformat()}, "This day is still to come."),
        ({"hours": "0", "minutes": "0"}, "Enter how long it was, at least 1 minute."),
        ({"hours": "24", "minutes": "1"}, "more than 24 hours"),
        ({"minutes": "60"}, "This is too large. Enter 59 or less."),
        ({"kind": "nap"}, "What was chosen is not on the list."),
        ({"unit": "987654321"}, "What was chosen is no longer there."),
        ({"on": "yesterday"}, "This is no day."),
    ],
)
def test_a_refusal_keeps_everything_typed(cast, client_for, enrolment, wrong, sentence):
    url = reverse("courses:hours-enter", args=[cast.ada.pk])
    page = client_for(cast.ines).post(url, TYPED | {"note": "Rehearsed twice"} | wrong)
    text = page.content.decode()
    assert sentence in text and "Rehearsed twice" in text
    assert {name: page.context["form"][name].value() for name in wrong} == wrong
    assert not HoursEntry.objects.exists()


def test_an_entry_is_corrected_and_both_are_shown(cast, client_for, enrolment):
    entry = make_hours(enrolment, cast.ines, minutes=120)
    client, url = client_for(cast.second), reverse("courses:hours-correct", args=[entry.pk])
    page = client.get(url)
    assert (page.context["form"]["hours"].value(), page.context["form"]["minutes"].value()) == (2, 0)
    assert "Why it is corrected" in client.post(url, TYPED).content.decode()
    client.post(url, TYPED | {"reason": "It was practical."})
    assert hours_total(enrolment) == {"theory": 0, "practical": 135, "online": 0, "field_trip": 0}
    text = client.get(reverse("courses:enrolment", args=[cast.ada.pk])).content.decode()
    assert "Corrected: It was practical." in text
    assert "Before: 2 h, theory in the room, 12 Jan 2026, entered by Ines Carvalho" in text
    assert client.get(url).status_code == 404  # the entry was replaced: the newer one is corrected


def test_an_entry_taken_back_says_so(cast, client_for, enrolment):
    entry = make_hours(enrolment, cast.ines, minutes=120)
    client, url = client_for(cast.ines), reverse("courses:hours-correct", args=[entry.pk])
    client.post(url, TYPED | {"hours": "0", "minutes": "0", "reason": "It was Bea."})
    assert "taken back" in client.get(reverse("courses:enrolment", args=[cast.ada.pk])).content.decode()


def test_the_unit_of_an_earlier_version_is_still_offered_for_its_own_entry(cast, client_for, enrolment, now):
    unit = enrolment.version.units.get(code="removal")
    client = client_for(cast.ines)
    client.post(reverse("courses:hours-enter", args=[cast.ada.pk]), TYPED | {"unit": unit.pk})
    newer = next_version(enrolment.version, cast.owner)
    move_enrolment(enrolment=enrolment, version=newer, reason="why", actor=cast.owner, now=now)
    url = reverse("courses:hours-correct", args=[HoursEntry.objects.get().pk])
    units = client.get(url).context["form"].fields["unit"].queryset
    assert set(units) == {unit, *newer.units.all()}
    assert client.post(url, TYPED | {"unit": unit.pk, "reason": "why"}).status_code == 302


def test_a_group_gets_its_hours_at_once_with_a_whole_cohort_ticked(cast, client_for, enrolment):
    make_enrolment(cast.bea, cast.owner)
    other = make_member(cast.academy, "Cleo Nym", cohort=make_cohort(cast.academy, "Evening"))
    make_enrolment(other, cast.owner)
    client, url = client_for(cast.ines), reverse("courses:hours-group")
    form = client.get(url, {"cohort": cast.cohort.pk}).context["form"]
    assert set(form["students"].value()) == {cast.ada.pk, cast.bea.pk}
    answer = client.post(url, TYPED | {"students": [cast.ada.pk, cast.bea.pk]}, follow=True)
    assert "Hours entered for 2 students." in answer.content.decode()
    assert set(HoursEntry.objects.values_list("enrolment__student", "minutes")) == {
        (cast.ada.pk, 135),
        (cast.bea.pk, 135),
    }


def test_a_group_refused_for_one_keeps_what_was_typed_and_names_her(cast, client_for, enrolment):
    full = make_enrolment(cast.bea, cast.owner)
    make_hours(full, cast.ines, minutes=1440)
    sent = TYPED | {"on": "2026-01-12", "students": [cast.ada.pk, cast.bea.pk]}
    page = client_for(cast.ines).post(reverse("courses:hours-group"), sent)
    text = page.content.decode()
    assert "Bea Holm: 12 January 2026 already has 24 h 00 min." in text and "Removal" in text
    assert page.context["form"]["students"].value() == [str(cast.ada.pk), str(cast.bea.pk)]
    assert HoursEntry.objects.count() == 1


def test_students_next_door_are_not_offered_and_not_taken(cast, client_for, enrolment):
    make_enrolment(cast.omar_student, cast.omar)
    client, url = client_for(cast.ines), reverse("courses:hours-group")
    assert list(client.get(url).context["form"].fields["students"].queryset) == [cast.ada]
    page = client.post(url, TYPED | {"students": [cast.omar_student.pk]})
    assert page.status_code == 200 and not HoursEntry.objects.exists()


def test_without_anybody_on_a_programme_the_group_page_says_what_to_do(cast, client_for):
    text = client_for(cast.ines).get(reverse("courses:hours-group")).content.decode()
    assert "Nobody is on a programme" in text
