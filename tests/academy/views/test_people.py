"""The owner's list of people: complete, findable, closed to everybody else."""

import pytest
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from academy.models import Invitation, Membership, Role
from academy.services.invitations import invite_person
from tests.factories.academy import make_cohort, make_member

pytestmark = pytest.mark.django_db
PEOPLE = "/people/"


def pages(cast, now):
    """Every page of an owner, with ids of this academy."""
    invitation = invite_person(
        actor=cast.owner, name="Mira", email="m@people.example", role=Role.STUDENT, cohort=None, now=now
    )
    return [
        PEOPLE,
        reverse("academy:invite"),
        reverse("academy:person", args=[cast.ada.pk]),
        reverse("academy:person-leave", args=[cast.ada.pk]),
        reverse("academy:invitation-withdraw", args=[invitation.pk]),
        reverse("academy:cohort-new"),
        reverse("academy:cohort-edit", args=[cast.cohort.pk]),
        reverse("academy:settings"),
    ]


def test_the_owner_opens_every_page(cast, client_for, now):
    client = client_for(cast.owner)
    assert [client.get(url).status_code for url in pages(cast, now)] == [200] * 8


@pytest.mark.parametrize("who", ["ines", "ada", "omar", "omar_student"])
def test_nobody_else_opens_or_changes_any(cast, client_for, now, who):
    client = client_for(getattr(cast, who))
    for url in pages(cast, now):
        assert (client.get(url).status_code, client.post(url).status_code) == (403, 403)


def test_a_stranger_is_sent_to_sign_in(cast, client, now):
    for url in pages(cast, now):
        assertRedirects(client.post(url), f"/account/login/?next={url}")


def test_rows_of_another_academy_are_not_here(cast, client_for, now):
    pia = make_member(cast.other_academy, "Pia Rusk", Role.OWNER)
    client = client_for(pia)
    foreign = [url for url in pages(cast, now) if any(part.isdigit() for part in url.split("/"))]
    foreign.append(reverse("academy:invitation-renew", args=[Invitation.objects.get().pk]))
    assert len(foreign) == 5
    assert [client.post(url).status_code for url in foreign] == [404] * 5
    assert not Membership.objects.exclude(left_at=None).exists()


def test_the_list_shows_who_is_here_and_nobody_from_next_door(cast, client_for):
    answer = client_for(cast.owner).get(PEOPLE)
    assertContains(answer, "Ada Marsh")
    assertContains(answer, cast.cohort.name)
    assertNotContains(answer, "Omar")


def test_the_list_is_searched_by_name(cast, client_for):
    answer = client_for(cast.owner).get(PEOPLE, {"q": "marsh"})
    assertContains(answer, "Ada Marsh")
    assertNotContains(answer, "Bea Holm")
    assertContains(client_for(cast.owner).get(PEOPLE, {"q": "zzz"}), "Nobody found")


def test_markup_in_a_name_or_a_search_is_shown_as_text(cast, client_for):
    cast.ada.user.name = "<script>alert(1)</script>"
    cast.ada.user.save()
    client = client_for(cast.owner)
    for url in (PEOPLE, reverse("academy:person", args=[cast.ada.pk]), f"{PEOPLE}?q=<script>alert(1)"):
        assertNotContains(client.get(url), "<script>alert")
    assertContains(client.get(PEOPLE), "&lt;script&gt;alert(1)&lt;/script&gt;")


def test_fifty_people_fill_a_page(cast, client_for):
    for number in range(48):
        make_member(cast.academy, f"Crowd {number:02d}")
    client = client_for(cast.owner)
    assertContains(client.get(PEOPLE), "Page 1 of 2")
    assert len(client.get(PEOPLE, {"page": 2}).context["page"]) == 3
    assert client.get(PEOPLE, {"page": "nonsense"}).context["page"].number == 1


def test_the_list_costs_the_same_for_one_person_and_for_many(
    cast, client_for, now, django_assert_max_num_queries
):
    client = client_for(cast.owner)
    client.get(PEOPLE)
    with django_assert_max_num_queries(30) as few:
        client.get(PEOPLE)
    for number in range(20):
        cohort = make_cohort(cast.academy, f"Cohort {number}")
        make_member(cast.academy, f"Crowd {number}", cohort=cohort)
        invite_person(
            actor=cast.owner,
            name="Mira",
            email=f"m{number}@people.example",
            role=Role.STUDENT,
            cohort=cohort,
            now=now,
        )
    with django_assert_max_num_queries(30) as many:
        client.get(PEOPLE)
    assert len(many.captured_queries) == len(few.captured_queries)


def test_a_role_and_a_cohort_are_changed(cast, client_for):
    other = make_cohort(cast.academy, "Autumn day")
    url = reverse("academy:person", args=[cast.ada.pk])
    answer = client_for(cast.owner).post(url, {"role": "student", "cohort": other.pk})
    assertRedirects(answer, PEOPLE)
    assert Membership.objects.get(pk=cast.ada.pk).cohort == other


def test_a_cohort_of_another_academy_cannot_be_chosen(cast, client_for):
    foreign = make_cohort(cast.other_academy, "Next door")
    url = reverse("academy:person", args=[cast.ada.pk])
    answer = client_for(cast.owner).post(url, {"role": "student", "cohort": foreign.pk})
    assertContains(answer, "What was chosen is no longer there.")
    assert Membership.objects.get(pk=cast.ada.pk).cohort == cast.cohort


@pytest.mark.parametrize("role", ["", "headmistress"])
def test_a_role_that_does_not_exist_is_refused_in_words(cast, client_for, role):
    url = reverse("academy:person", args=[cast.ada.pk])
    assertContains(client_for(cast.owner).post(url, {"role": role}), "Please correct this first")


def test_the_last_owner_is_told_why_she_stays(cast, client_for):
    client = client_for(cast.owner)
    place = reverse("academy:person", args=[cast.owner.pk])
    leave = reverse("academy:person-leave", args=[cast.owner.pk])
    assertContains(client.post(place, {"role": "educator"}), "Make somebody else an owner first")
    assertContains(client.post(leave), "Make somebody else an owner first")


def test_ending_a_place_asks_first(cast, client_for):
    url = reverse("academy:person-leave", args=[cast.ada.pk])
    client = client_for(cast.owner)
    assertContains(client.get(url), "marks and records stay")
    assert Membership.objects.get(pk=cast.ada.pk).is_current
    assertRedirects(client.post(url), PEOPLE)
    assert not Membership.objects.get(pk=cast.ada.pk).is_current
    assert client.get(url).status_code == 404
