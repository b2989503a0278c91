"""The second step at sign-in: required of owners and educators, on every page and in the API.

The codes come from the few lines of RFC 6238 below, which are checked against the RFC's own test vectors.
"""

import base64
import hmac
import re
import struct
import time
from uuid import uuid4

import pytest
from allauth.mfa.models import Authenticator
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from pytest_django.asserts import assertContains, assertRedirects

from tests.factories.academy import PASSWORD, sign_in

SETUP = "/account/2fa/"
ACTIVATE, CODES, CHALLENGE = f"{SETUP}totp/activate/", f"{SETUP}recovery-codes/", f"{SETUP}authenticate/"


def totp(key: bytes, at_s: float, digits: int = 6) -> str:
    """RFC 6238 section 4 over RFC 4226 section 5.3: HMAC-SHA-1, steps of 30 s."""
    mac = hmac.digest(key, struct.pack(">Q", int(at_s) // 30), "sha1")
    start = mac[-1] & 15
    number = int.from_bytes(mac[start : start + 4], "big") & 0x7FFFFFFF
    return str(number % 10**digits).zfill(digits)


# RFC 6238, appendix B, the SHA1 rows of table 1; the key is the ASCII string given there.
@pytest.mark.parametrize(
    ("at_s", "code"),
    [
        (59, "94287082"),
        (1111111109, "07081804"),
        (1111111111, "14050471"),
        (1234567890, "89005924"),
        (2000000000, "69279037"),
        (20000000000, "65353130"),
    ],
)
def test_our_own_codes_are_those_of_the_rfc(at_s, code):
    assert totp(b"12345678901234567890", at_s, digits=8) == code


@pytest.fixture
def required(settings):
    settings.STAFF_MFA_REQUIRED = True


def set_up(client: Client) -> bytes:
    """Sign-in app set up through the pages; gives its key."""
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    shown = re.search(r"\b[A-Z2-7]{32}\b", client.get(ACTIVATE).content.decode())
    assert shown, "the page does not show the key"
    key = base64.b32decode(shown[0])
    assert client.post(ACTIVATE, {"code": totp(key, time.time())}).status_code == 302
    return key


def own_pages(patterns, prefix="/"):
    """Every address of ours with made-up ids; the sign-in library's are left out."""
    ids = {"int": "1", "uuid": str(uuid4()), "str": "x", "slug": "x"}
    for pattern in patterns:
        route = prefix + re.sub(
            r"<(?:(\w+):)?\w+>", lambda found: ids[found[1] or "str"], str(pattern.pattern)
        )
        if isinstance(pattern, URLResolver):
            yield from own_pages(pattern.url_patterns, route)
        elif (
            isinstance(pattern, URLPattern) and not route.startswith("/account/") and not _is_public(pattern)
        ):
            yield route


def _is_public(pattern: URLPattern) -> bool:
    """The same for anybody, signed in or not."""
    return getattr(pattern.callback, "is_public", False)


@pytest.mark.parametrize("who", ["owner", "ines"])
@pytest.mark.usefixtures("required")
def test_staff_without_a_second_step_reach_no_page_at_all(cast, client_for, who):
    client = client_for(getattr(cast, who))
    pages = list(own_pages(get_resolver().url_patterns))
    assert len(pages) > 30
    for page in pages:
        for answer in (client.get(page), client.post(page)):
            if page.startswith("/api/"):
                assert (answer.status_code, answer["Content-Type"]) == (403, "application/problem+json"), page
                assert answer.json()["title"] == "second_step_needed"
            else:
                assert (answer.status_code, answer.headers.get("Location")) == (302, SETUP), page


@pytest.mark.usefixtures("required")
def test_staff_are_told_why_and_can_set_it_up(cast, client_for):
    client = client_for(cast.ines)
    assertContains(client.get("/people/", follow=True), "Owners and educators sign in with a second step")
    set_up(client)
    assertRedirects(client.get("/"), reverse("assessments:today"), fetch_redirect_response=False)


@pytest.mark.usefixtures("required")
def test_students_are_not_asked(cast, client_for):
    answer = client_for(cast.ada).get("/")
    assertRedirects(answer, reverse("assessments:stand"), fetch_redirect_response=False)


def test_the_demo_does_not_ask(cast, client_for, settings):
    settings.STAFF_MFA_REQUIRED = False
    answer = client_for(cast.ines).get("/")
    assertRedirects(answer, reverse("assessments:today"), fetch_redirect_response=False)


@pytest.mark.usefixtures("required")
def test_password_then_code_signs_in_and_the_password_alone_does_not(cast, client):
    owner = Client()
    sign_in(owner, cast.owner)
    key = set_up(owner)
    answer = client.post("/account/login/", {"login": cast.owner.user.email, "password": PASSWORD})
    assertRedirects(answer, CHALLENGE)
    stopped = client.get("/choose/")
    assertRedirects(stopped, "/account/login/?next=/choose/", fetch_redirect_response=False)
    assertContains(client.post(CHALLENGE, {"code": wrong(key)}), "Incorrect code")
    assert client.post(CHALLENGE, {"code": totp(key, time.time() + 30)}).status_code == 302
    assert client.get("/choose/").status_code == 200


def test_a_code_works_once(cast, client):
    owner = Client()
    sign_in(owner, cast.owner)
    key = set_up(owner)
    code = totp(key, time.time() + 30)
    for visitor, status in ((client, 302), (Client(), 200)):
        visitor.post("/account/login/", {"login": cast.owner.user.email, "password": PASSWORD})
        assert visitor.post(CHALLENGE, {"code": code}).status_code == status


def test_an_old_code_does_not_sign_in(cast, client):
    owner = Client()
    sign_in(owner, cast.owner)
    key = set_up(owner)
    client.post("/account/login/", {"login": cast.owner.user.email, "password": PASSWORD})
    assertContains(client.post(CHALLENGE, {"code": totp(key, time.time() - 120)}), "Incorrect code")


def test_the_code_from_the_letter_does_not_replace_the_second_step(cast, client, mailoutbox):
    owner = Client()
    sign_in(owner, cast.owner)
    set_up(owner)
    client.post("/account/login/code/", {"email": cast.owner.user.email})
    code = re.search(r"^([A-Z0-9-]{6,9})$", mailoutbox[-1].body, re.MULTILINE)
    assert code
    assertRedirects(client.post("/account/login/code/confirm/", {"code": code[1]}), CHALLENGE)


def test_a_recovery_code_signs_in_once(cast):
    owner = Client()
    sign_in(owner, cast.owner)
    set_up(owner)
    saved = Authenticator.objects.get(user=cast.owner.user, type="recovery_codes").wrap().get_unused_codes()
    assert len(saved) == 10
    assertContains(owner.get(CODES), saved[0])
    for status in (302, 200):
        visitor = Client()
        visitor.post("/account/login/", {"login": cast.owner.user.email, "password": PASSWORD})
        assert visitor.post(CHALLENGE, {"code": saved[0]}).status_code == status


def test_guessing_codes_is_stopped(cast, client):
    owner = Client()
    sign_in(owner, cast.owner)
    key = set_up(owner)
    client.post("/account/login/", {"login": cast.owner.user.email, "password": PASSWORD})
    for _ in range(5):
        client.post(CHALLENGE, {"code": wrong(key)})
    assert client.post(CHALLENGE, {"code": totp(key, time.time() + 30)}).status_code != 302


def wrong(key: bytes) -> str:
    near = {totp(key, time.time() + drift) for drift in (-60, -30, 0, 30, 60)}
    return next(
        code for code in ("000000", "111111", "222222", "333333", "444444", "555555") if code not in near
    )
