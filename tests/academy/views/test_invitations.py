"""From the owner's form to a place: the letter's link, and every way it can fail."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from academy.models import Invitation, Membership, Role, User
from academy.selectors.invitations import invitation_token
from academy.services.invitations import invite_person, withdraw_invitation
from tests.factories.academy import PASSWORD, sign_in

pytestmark = pytest.mark.django_db
INVITE = "/people/invite/"


def offer(cast, email="mira@people.example", *, at=None):
    return invite_person(
        actor=cast.owner,
        name="Mira Tamsin",
        email=email,
        role=Role.STUDENT,
        cohort=cast.cohort,
        now=at or timezone.now(),
    )


def link(invitation):
    return reverse("academy:invitation-accept", args=[invitation_token(invitation)])


def test_the_owner_invites_and_the_letter_holds_the_link(
    cast, client_for, mailoutbox, django_capture_on_commit_callbacks
):
    typed = {
        "name": "Mira Tamsin",
        "email": "Mira@people.example",
        "role": "student",
        "cohort": cast.cohort.pk,
    }
    with django_capture_on_commit_callbacks(execute=True):
        assertRedirects(client_for(cast.owner).post(INVITE, typed), "/people/")
    invitation = Invitation.objects.get()
    assert (invitation.email, invitation.cohort) == ("mira@people.example", cast.cohort)
    assert link(invitation) in mailoutbox[0].body


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"email": "ada.marsh@people.example"}, "already has a place here"),
        ({"email": "nobody"}, "This is no e-mail address."),
        ({"email": "a@b.example\r\nBcc: c@d.example"}, "This is no e-mail address."),
        ({"name": "Mira\nBcc: c@d.example"}, "holds a line end"),
        ({"name": "x" * 121}, "This has 121 characters. Shorten it to 120."),
        ({"role": "queen"}, "What was chosen is not on the list."),
    ],
)
def test_what_cannot_be_sent_is_refused_in_words_and_nothing_typed_is_lost(cast, client_for, wrong, sentence):
    typed = {"name": "Mira Tamsin", "email": "mira@people.example", "role": "student", **wrong}
    answer = client_for(cast.owner).post(INVITE, typed)
    assertContains(answer, sentence)
    kept = "mira@people.example" if "email" not in wrong else "Mira Tamsin"
    assertContains(answer, f'value="{kept}"')
    assert not Invitation.objects.exists()


def test_looking_at_the_link_changes_nothing(cast, client):
    invitation = offer(cast)
    answer = client.get(link(invitation))
    for shown in ("Marram Lane Lash School", "Wren Adair", "Student", "mira@people.example"):
        assertContains(answer, shown)
    client.head(link(invitation))
    invitation.refresh_from_db()
    assert invitation.accepted_at is None and not User.objects.filter(email=invitation.email).exists()


def test_somebody_new_takes_up_the_place_and_is_signed_in(cast, client):
    answer = client.post(link(offer(cast)), {"name": "Mira T.", "password": PASSWORD})
    assertRedirects(answer, "/", fetch_redirect_response=False)
    assertRedirects(client.get("/"), reverse("assessments:stand"), fetch_redirect_response=False)
    place = Membership.objects.get(user__email="mira@people.example")
    assert (place.name, place.cohort, client.session["member_id"]) == ("Mira T.", cast.cohort, place.pk)


def test_somebody_new_may_do_without_a_password(cast, client):
    client.post(link(offer(cast)), {"name": "Mira", "password": ""})
    assert client.session["_auth_user_id"]
    assert not User.objects.get(email="mira@people.example").has_usable_password()


@pytest.mark.parametrize(
    ("password", "sentence"),
    [
        ("short", "at least 15 characters"),
        ("mira@people.example", "too similar to the email"),
        ("123456789987654321", "too common"),
    ],
)
def test_a_weak_password_is_refused_in_words(cast, client, password, sentence):
    answer = client.post(link(offer(cast)), {"name": "Mira Tamsin", "password": password})
    assertContains(answer, sentence)
    assertNotContains(answer, password + '"')
    assert not User.objects.filter(email="mira@people.example", memberships__isnull=False).exists()


def test_sending_the_page_twice_makes_one_account(cast):
    url = link(offer(cast))
    first = Client().post(url, {"name": "Mira", "password": PASSWORD})
    second = Client().post(url, {"name": "Mira", "password": PASSWORD})
    assert (first.status_code, second.status_code) == (302, 410)
    assertContains(second, "already been accepted. Sign in", status_code=410)
    assert User.objects.filter(email="mira@people.example").count() == 1


def test_somebody_with_an_account_is_asked_to_sign_in_and_comes_back(cast, client):
    url = link(offer(cast, cast.omar.user.email))
    answer = client.get(url)
    assertContains(answer, f"/account/login/?next={url}")
    client.post(url, {"name": "Omar", "password": PASSWORD})
    assert Membership.objects.filter(user=cast.omar.user).count() == 1
    signed_in = client.post(
        f"/account/login/?next={url}", {"login": cast.omar.user.email, "password": PASSWORD}
    )
    assertRedirects(signed_in, url)
    assertRedirects(client.post(url), "/", fetch_redirect_response=False)
    assert Membership.objects.filter(user=cast.omar.user).count() == 2


def test_somebody_else_cannot_take_it_up(cast, client):
    invitation = offer(cast)
    sign_in(client, cast.omar)
    assertContains(client.post(link(invitation)), "This invitation is for somebody else")
    invitation.refresh_from_db()
    assert invitation.accepted_at is None


def test_a_link_that_ran_out_says_whom_to_ask(cast, client):
    url = link(offer(cast, at=timezone.now() - timedelta(days=8)))
    assertContains(client.post(url), "Ask Marram Lane Lash School to send it again", status_code=410)


def test_a_withdrawn_link_says_so(cast, client):
    invitation = offer(cast)
    withdraw_invitation(actor=cast.owner, invitation=invitation, now=timezone.now())
    assertContains(client.get(link(invitation)), "has withdrawn this invitation", status_code=410)


def test_a_garbled_link_says_what_to_do(cast, client):
    url = link(offer(cast))[:-9] + "/"
    assertContains(client.get(url), "open the link in the newest letter", status_code=404)


def test_renewing_and_withdrawing_are_done_by_post_only(cast, client_for):
    invitation = offer(cast)
    client = client_for(cast.owner)
    renew = reverse("academy:invitation-renew", args=[invitation.pk])
    withdraw = reverse("academy:invitation-withdraw", args=[invitation.pk])
    old = link(invitation)
    assert client.get(renew).status_code == 405
    assertRedirects(client.post(renew), "/people/")
    assert Client().get(old).status_code == 404
    assertContains(client.get(withdraw), "stops working")
    assertRedirects(client.post(withdraw), "/people/")
    assert client.post(withdraw).status_code == 404


def test_guessing_links_is_slowed_down(client, db):
    answers = [client.get(f"/invitation/guess-{number}/").status_code for number in range(21)]
    assert answers == [404] * 20 + [429]
    assert client.get("/invitation/guess/")["Retry-After"] == "300"


def test_inviting_is_limited(cast, client_for):
    client = client_for(cast.owner)
    answers = [client.post(INVITE, {}).status_code for _ in range(61)]
    assert answers == [200] * 60 + [429]


def test_markup_in_what_is_offered_is_shown_as_text(cast, client):
    cast.academy.name = cast.owner.user.name = "<img src=x>"
    cast.academy.save()
    cast.owner.user.save()
    assertNotContains(client.get(link(offer(cast))), "<img src=x>")
