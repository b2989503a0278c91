"""Where people land, and the choice between academies."""

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertRedirects

from academy.models import Role
from tests.factories.academy import make_member, make_user, sign_in

pytestmark = pytest.mark.django_db
HOME, CHOOSE = "/", "/choose/"


def test_strangers_are_sent_to_sign_in(client):
    assertRedirects(client.get(HOME), "/account/login/?next=/")


@pytest.mark.parametrize(
    ("who", "where"),
    [("owner", "assessments:today"), ("ines", "assessments:today"), ("ada", "assessments:stand")],
)
def test_everybody_lands_on_the_page_of_their_role(cast, client_for, who, where):
    answer = client_for(getattr(cast, who)).get(HOME)
    assertRedirects(answer, reverse(where), fetch_redirect_response=False)


def test_somebody_without_a_place_learns_what_to_do(client):
    client.force_login(make_user("Mira Tamsin"))
    assertContains(client.get(HOME, follow=True), "ask the owner of your academy to invite")


def test_a_place_that_was_ended_is_no_longer_open_from_the_next_page_on(cast, client_for, now):
    client = client_for(cast.ada)
    cast.ada.left_at = now
    cast.ada.save()
    assertRedirects(client.get(HOME), CHOOSE)
    assertContains(client.get(CHOOSE), "Your records are kept")


def test_an_account_that_was_closed_is_signed_out_at_once(cast, client_for):
    client = client_for(cast.ada)
    cast.ada.user.is_active = False
    cast.ada.user.save()
    assertRedirects(client.get(HOME), "/account/login/?next=/")


@pytest.fixture
def two_places(cast):
    """Ines, educator in one academy, is a student in the other."""
    return cast.ines, make_member(cast.other_academy, "", Role.STUDENT, user=cast.ines.user)


def test_somebody_with_two_places_chooses_first(client, two_places):
    client.force_login(two_places[0].user)
    answer = client.get(HOME, follow=True)
    assertContains(answer, "Marram Lane Lash School")
    assertContains(answer, "Tern Quay Lash Room")


def test_choosing_changes_the_place_and_keeps_the_session(client, two_places):
    here, there = two_places
    sign_in(client, here)
    before = client.session.session_key
    assertRedirects(client.post(CHOOSE, {"place": there.pk}), HOME, fetch_redirect_response=False)
    assertRedirects(client.get(HOME), reverse("assessments:stand"), fetch_redirect_response=False)
    assert client.session.session_key == before


def test_looking_at_the_choice_changes_nothing(client, two_places):
    sign_in(client, two_places[0])
    client.get(CHOOSE, {"place": two_places[1].pk})
    assert client.session["member_id"] == two_places[0].pk


@pytest.mark.parametrize("place", ["", "x", "0", "99999999999999999999"])
def test_a_place_that_is_not_mine_is_not_here(cast, client_for, place):
    client = client_for(cast.ada)
    for sent in (place, str(cast.omar.pk)):
        assert client.post(CHOOSE, {"place": sent}).status_code == 404
    assert client.session["member_id"] == cast.ada.pk


def test_a_page_that_was_open_too_long_says_what_to_do(cast):
    client = Client(enforce_csrf_checks=True)
    sign_in(client, cast.ada)
    assertContains(client.post(CHOOSE, {"place": cast.ada.pk}), "Nothing was saved", status_code=403)


def test_a_page_of_another_role_says_whose_it_is(cast, client_for):
    assertContains(client_for(cast.ada).get("/people/"), "This page is for owners", status_code=403)
