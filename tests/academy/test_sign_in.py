"""Signing in with a password or an e-mailed code, and what protects it."""

import re

import pytest
from allauth.usersessions.models import UserSession
from django.test import Client
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from academy.models import User
from tests.factories.academy import PASSWORD, make_user

pytestmark = pytest.mark.django_db
LOGIN, CODE, CONFIRM = "/account/login/", "/account/login/code/", "/account/login/code/confirm/"


def sign_in_by_password(client, user, password=PASSWORD):
    return client.post(LOGIN, {"login": user.email, "password": password})


def is_signed_in(client):
    return client.get("/choose/").status_code == 200


def test_a_password_signs_in(cast, client):
    assertRedirects(sign_in_by_password(client, cast.ada.user), "/", fetch_redirect_response=False)
    assert is_signed_in(client)


def test_the_address_is_taken_in_any_case(cast, client):
    client.post(LOGIN, {"login": cast.ada.user.email.upper(), "password": PASSWORD})
    assert is_signed_in(client)


def test_the_session_key_changes_at_sign_in(cast, client):
    session = client.session
    session["before"] = True
    session.save()
    key = session.session_key
    client.cookies["fanlight_session"] = key
    sign_in_by_password(client, cast.ada.user)
    assert client.session.session_key != key


def test_a_wrong_password_does_not_tell_whether_there_is_an_account(cast, client):
    known = sign_in_by_password(client, cast.ada.user, "the wrong one entirely")
    unknown = client.post(LOGIN, {"login": "nobody@people.example", "password": "the wrong one entirely"})
    assert known.status_code == unknown.status_code == 200
    assert known.context["form"].errors == unknown.context["form"].errors != {}
    assertContains(known, "not correct")


def test_an_account_without_password_does_not_sign_in_with_an_empty_one(client):
    user = make_user("Mira Tamsin", password=None)
    for password in ("", "!", "None"):
        sign_in_by_password(client, user, password)
    assert not is_signed_in(client)


def test_guessing_a_password_is_stopped_even_when_the_right_one_comes_at_last(cast, client):
    for _ in range(5):
        sign_in_by_password(client, cast.ada.user, "the wrong one entirely")
    assertContains(sign_in_by_password(client, cast.ada.user), "Too many failed login attempts")
    assert not is_signed_in(client)


def test_a_code_from_the_letter_signs_in_once(cast, client, mailoutbox):
    client.post(CODE, {"email": cast.ada.user.email})
    code = code_in(mailoutbox)
    assertRedirects(client.post(CONFIRM, {"code": code}), "/", fetch_redirect_response=False)
    assert is_signed_in(client)
    second = Client()
    second.post(CODE, {"email": cast.ada.user.email})
    second.post(CONFIRM, {"code": code})
    assert not is_signed_in(second)


def test_a_code_may_be_tried_three_times(cast, client, mailoutbox):
    client.post(CODE, {"email": cast.ada.user.email})
    for _ in range(3):
        client.post(CONFIRM, {"code": "XXXXXX"})
    client.post(CONFIRM, {"code": code_in(mailoutbox)})
    assert not is_signed_in(client)


def test_asking_for_a_code_does_not_tell_whether_there_is_an_account(cast, client, mailoutbox):
    known = Client().post(CODE, {"email": cast.ada.user.email}, follow=True)
    unknown = client.post(CODE, {"email": "nobody@people.example"}, follow=True)
    assert known.redirect_chain == unknown.redirect_chain
    assert [letter.to for letter in mailoutbox] == [[cast.ada.user.email]]


def test_asking_for_many_codes_is_stopped(cast, client, mailoutbox):
    answers = [Client().post(CODE, {"email": cast.ada.user.email}).status_code for _ in range(5)]
    assert answers[-1] == 429 or len(mailoutbox) == 3


def test_the_letter_with_the_code_promises_nothing(cast, client, mailoutbox):
    client.post(CODE, {"email": cast.ada.user.email})
    assert "safe" not in mailoutbox[0].body.lower()
    client.post("/account/password/reset/", {"email": cast.ada.user.email})
    assert "safe" not in mailoutbox[1].body.lower() and "/account/password/reset/key/" in mailoutbox[1].body


def test_nobody_signs_up(client):
    assertContains(client.get("/account/signup/"), "Places are by invitation")
    client.post("/account/signup/", {"email": "mira@people.example", "password1": PASSWORD})
    assert not User.objects.filter(email="mira@people.example").exists()
    assertNotContains(client.get(LOGIN), "/account/signup/")


@pytest.mark.parametrize("url", ["/account/2fa/totp/activate/", "/account/2fa/webauthn/add/"])
def test_setting_up_a_second_step_asks_for_the_password_again(cast, client, url):
    sign_in_by_password(client, cast.ada.user)
    assert client.get(url)["Location"].startswith("/account/reauthenticate/")
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    assert client.get(url).status_code == 200


def test_changing_the_address_asks_for_the_password_again(cast, client, mailoutbox):
    sign_in_by_password(client, cast.ada.user)
    answer = client.post("/account/email/", {"email": "new@people.example", "action_add": ""})
    assert answer["Location"].startswith("/account/reauthenticate/")
    assert mailoutbox == []


def test_changing_the_password_asks_for_the_old_one(cast, client):
    sign_in_by_password(client, cast.ada.user)
    new = "another lamp over the bench"
    typed = {"oldpassword": "not the old one at all", "password1": new, "password2": new}
    assert "oldpassword" in client.post("/account/password/change/", typed).context["form"].errors
    assert User.objects.get(pk=cast.ada.user.pk).check_password(PASSWORD)


def test_changing_the_password_ends_every_session(cast, client):
    elsewhere = Client()
    for each in (client, elsewhere):
        sign_in_by_password(each, cast.ada.user)
    change_password(client)
    assert not is_signed_in(elsewhere)
    assert not is_signed_in(client)
    sign_in_by_password(client, cast.ada.user, "another lamp over the bench")
    assert is_signed_in(client)


def change_password(client):
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    new = "another lamp over the bench"
    typed = {"oldpassword": PASSWORD, "password1": new, "password2": new}
    assert client.post("/account/password/change/", typed).status_code == 302


def test_sessions_are_listed_and_ended_from_another_device(cast, client):
    elsewhere = Client(headers={"User-Agent": "Tablet at the bench"})
    for each in (client, elsewhere):
        sign_in_by_password(each, cast.ada.user)
    assertContains(client.get("/account/sessions/"), "Tablet at the bench")
    client.post("/account/sessions/")
    assert is_signed_in(client) and not is_signed_in(elsewhere)
    assert UserSession.objects.filter(user=cast.ada.user).count() == 1


def test_signing_out_needs_a_post_and_empties_the_browsers_cache(cast, client):
    sign_in_by_password(client, cast.ada.user)
    client.get("/account/logout/")
    assert is_signed_in(client)
    assert client.post("/account/logout/")["Clear-Site-Data"] == '"cache"'
    assert not is_signed_in(client)


def test_sign_in_leads_nowhere_outside(cast, client):
    answer = client.post(
        f"{LOGIN}?next=https://elsewhere.example/", {"login": cast.ada.user.email, "password": PASSWORD}
    )
    assert answer["Location"] == "/"


def code_in(mailoutbox):
    found = re.search(r"^([A-Z0-9]{3,4}-?[A-Z0-9]{3,4})$", mailoutbox[-1].body, re.MULTILINE)
    assert found, mailoutbox[-1].body
    return found[1]
