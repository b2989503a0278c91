"""A certificate as others check it, and the addresses in it."""

import pytest

from assessments.credentials.achievement import credential
from assessments.credentials.reading import shown_of
from assessments.selectors.credentials import (
    check_url,
    facts_of,
    issuer_did,
    kid_of_key,
    known_sites,
    status_url,
)
from tests.factories.academy import Cast
from tests.factories.certificates import certified_ada

SITE = "https://certs.marramlane.example:8443"


@pytest.fixture(autouse=True)
def _site(settings) -> None:
    settings.SITE_URL = SITE


def test_addresses_are_those_that_are_served():
    assert check_url("7Q2M9KXD4TBP") == f"{SITE}/v/7Q2M9KXD4TBP"
    assert kid_of_key("abc") == f"{SITE}/keys/abc"
    assert status_url(7, "revocation", 1) == f"{SITE}/status/7/revocation/1"


def test_the_name_of_the_school_escapes_the_port():
    """did:web method specification, 3.1: a colon before a port is percent-encoded."""
    assert issuer_did(7) == "did:web:certs.marramlane.example%3A8443:schools:7"
    assert issuer_did(7, "https://old.example") == "did:web:old.example:schools:7"


def test_former_addresses_follow_todays(settings):
    settings.FORMER_SITE_URLS = ["https://old.example"]
    assert known_sites() == (SITE, "https://old.example")


@pytest.mark.django_db
def test_what_is_signed_says_what_was_frozen(cast: Cast):
    row = certified_ada(cast)
    signed = credential(facts_of(row))
    shown = shown_of(signed)
    assert (shown.holder, shown.school, shown.programme) == (
        "Ada Marsh",
        "Marram Lane Lash School",
        "Lash foundation",
    )
    assert dict(shown.figures) == {
        "Theory, hours credited": "0",
        "Practice, hours credited": "4",
        "Graded practice sets": "1",
    }
    assert [each.skill for each in shown.levels] == [skill["name"] for skill in row.content["skills"]]
    # One entry: Open Badges 3.0, credentialStatus [0..1]; the suspended and the revoked are set in its list.
    status = signed["credentialStatus"]
    assert (status["statusPurpose"], status["statusListIndex"]) == ("suspension", str(row.status_index))
    assert signed["credentialSubject"]["id"] == row.subject_id.urn
    assert "not a licence" in signed["credentialSubject"]["narrative"]
    assert "@" not in str(signed["credentialSubject"])  # no address of a person
