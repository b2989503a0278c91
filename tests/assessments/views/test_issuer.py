"""Keys three ways and status lists: what others need to check a certificate without us."""

import json
from datetime import datetime, timedelta

import jwt
import pytest
from django.conf import settings as project
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from joserfc.jwk import RSAKey

from assessments.credentials.status_list import STATUS_LIST, decode, is_set
from assessments.credentials.tokens import verify
from assessments.models import Certificate
from assessments.selectors.credentials import issuer_did, kid_of_key
from assessments.services.certificates import (
    restore_certificate,
    revoke_certificate,
    suspend_certificate,
)
from assessments.services.signing_keys import make_signing_key
from tests.factories.academy import Cast
from tests.factories.certificates import certified_ada, make_certificate, make_key

pytestmark = pytest.mark.django_db
PRIVATE = {"d", "p", "q", "dp", "dq", "qi", "oth", "k"}  # RFC 7518 sections 6.3.2 and 6.4.1


@pytest.fixture
def row(cast: Cast) -> Certificate:
    return certified_ada(cast)


def served(url: str):
    answer = Client().get(url)
    assert answer.status_code == 200
    return answer


def path_of(url: str) -> str:
    return url.removeprefix(project.SITE_URL)


def status_token(row: Certificate, purpose: str) -> str:
    url = reverse("assessments:status", args=[row.academy_id, purpose, row.status_list])
    return str(served(url).content, "ascii")


def bit(row: Certificate, purpose: str) -> bool:
    kid = kid_of_key(row.key_thumbprint)
    key = json.loads(served(path_of(kid)).content)
    listed = verify(status_token(row, purpose), {kid: key}, issuer_did(row.academy_id), kind=STATUS_LIST)
    return is_set(decode(listed["credentialSubject"]["encodedList"]), row.status_index)


class TestKeys:
    def test_the_kid_of_a_certificate_leads_to_one_jwk_that_a_second_library_checks_it_with(self, row):
        kid = jwt.get_unverified_header(row.token)["kid"]
        answer = served(path_of(kid))
        assert answer["Content-Type"] == "application/jwk+json"  # RFC 7517 section 8.5.1
        key = json.loads(answer.content)
        assert key["kid"] == kid and not PRIVATE & set(key)
        payload = jwt.decode(
            row.token,
            jwt.PyJWK(key).key,
            algorithms=["RS256"],
            options={"verify_nbf": False, "verify_exp": False},
        )
        assert payload["iss"] == issuer_did(row.academy_id)

    def test_its_thumbprint_is_that_of_rfc_7638(self, row):
        key = json.loads(served(path_of(kid_of_key(row.key_thumbprint))).content)
        assert RSAKey.import_key(key).thumbprint() == row.key_thumbprint

    def test_the_set_has_every_key_of_every_school_for_ever(self, row, cast: Cast):
        make_signing_key(academy=cast.academy, now=timezone.now())
        make_key(cast.other_academy)
        answer = served(reverse("assessments:key-set"))
        assert answer["Content-Type"] == "application/jwk-set+json"  # RFC 7517 section 8.5.2
        keys = json.loads(answer.content)["keys"]
        assert len(keys) == 3 and not any(PRIVATE & set(key) for key in keys)
        assert kid_of_key(row.key_thumbprint) in {key["kid"] for key in keys}

    def test_the_school_s_document_lies_where_did_web_looks_for_it(self, row, cast: Cast):
        """did:web method specification, 3.2: colons after the host become slashes, then /did.json."""
        make_signing_key(academy=cast.academy, now=timezone.now())
        parts = issuer_did(cast.academy.pk).split(":")[3:]
        answer = served("/" + "/".join(parts) + "/did.json")
        # Decentralized Identifiers 1.0, section 6.2: the JSON representation has this media type.
        assert answer["Content-Type"] == "application/did+json"
        document = json.loads(answer.content)
        assert document["id"] == issuer_did(cast.academy.pk)
        assert len(document["verificationMethod"]) == 2
        assert set(document["assertionMethod"]) == {each["id"] for each in document["verificationMethod"]}
        assert not any(PRIVATE & set(each["publicKeyJwk"]) for each in document["verificationMethod"])

    def test_unknown_keys_and_schools_are_not_here(self, cast: Cast):
        for name, args in (
            ("key", ["A" * 43]),
            ("did", [cast.academy.pk]),
            ("status", [cast.academy.pk, "revocation", 1]),
        ):
            assert Client().get(reverse(f"assessments:{name}", args=args)).status_code == 404


class TestStatus:
    def test_the_bits_follow_what_happens(self, row, cast: Cast):
        told = {"certificate": row, "reason": "Invented", "actor": cast.owner}
        assert (bit(row, "revocation"), bit(row, "suspension")) == (False, False)
        suspend_certificate(**told, now=timezone.now())
        assert (bit(row, "revocation"), bit(row, "suspension")) == (False, True)
        restore_certificate(**told, now=timezone.now())
        assert (bit(row, "revocation"), bit(row, "suspension")) == (False, False)
        revoke_certificate(**told, now=timezone.now())
        assert bit(row, "revocation")

    def test_the_entry_in_the_certificate_names_the_served_list(self, row):
        payload = jwt.decode(row.token, options={"verify_signature": False})
        entry = payload["credentialStatus"]
        sent = served(path_of(entry["statusListCredential"])).content.decode()
        listed = jwt.decode(sent, options={"verify_signature": False})
        assert listed["id"] == entry["statusListCredential"]
        assert listed["credentialSubject"]["statusPurpose"] == entry["statusPurpose"]
        assert entry["id"] == f"{listed['id']}#{row.status_index}"

    def test_a_copy_may_be_kept_as_long_as_it_says_itself(self, row):
        """Bitstring Status List 1.0, ttl: milliseconds; the header for caches says the same in seconds."""
        url = reverse("assessments:status", args=[row.academy_id, "revocation", 1])
        answer = served(url)
        listed = jwt.decode(answer.content.decode(), options={"verify_signature": False})
        seconds = int(answer["Cache-Control"].removeprefix("public, max-age="))
        assert listed["credentialSubject"]["ttl"] == seconds * 1000
        assert listed["exp"] - listed["nbf"] <= timedelta(hours=2).total_seconds()

    def test_all_academies_read_their_own_list(self, row, cast: Cast):
        other = make_certificate(cast.omar_student, cast.omar)
        revoke_certificate(certificate=other, reason="Invented", actor=cast.omar, now=timezone.now())
        assert bit(other, "revocation") and not bit(row, "revocation")


def public_addresses(row: Certificate) -> list[str]:
    return [
        path_of(kid_of_key(row.key_thumbprint)),
        reverse("assessments:key-set"),
        reverse("assessments:did", args=[row.academy_id]),
        reverse("assessments:status", args=[row.academy_id, "revocation", 1]),
        reverse("academy:security-txt"),
    ]


def test_nobody_is_looked_at_and_everybody_may_read(
    row, cast: Cast, client_for, settings, django_assert_max_num_queries
):
    settings.STAFF_MFA_REQUIRED = True  # also staff who have yet to set up a second step
    client = client_for(cast.ines)
    for url in public_addresses(row):
        with django_assert_max_num_queries(3):
            answer = client.get(url)
        assert answer.status_code == 200, url
        assert not answer.cookies and "Cookie" not in answer.get("Vary", ""), url
        assert answer.content == Client().get(url).content or "status" in url
        if "security" not in url:
            assert answer["Access-Control-Allow-Origin"] == "*"
            assert answer["Cache-Control"].startswith("public, max-age=")


def test_weaknesses_can_be_told(settings):
    """RFC 9116: Contact as a URI, exactly one Expires less than a year ahead, Canonical."""
    settings.SECURITY_CONTACT = "mailto:keys@marramlane.example"
    answer = served("/.well-known/security.txt")
    assert answer["Content-Type"] == "text/plain; charset=utf-8"
    fields = [line.split(": ", 1) for line in answer.content.decode().splitlines()]
    names = [name for name, _ in fields]
    told = dict(fields)
    assert names.count("Expires") == 1 and told["Contact"] == "mailto:keys@marramlane.example"
    assert told["Canonical"] == f"{settings.SITE_URL}/.well-known/security.txt"
    ends = datetime.fromisoformat(told["Expires"])
    assert timedelta(days=90) < ends - timezone.now() < timedelta(days=365)


class TestProgramme:
    def test_the_address_that_a_certificate_names_says_what_was_asked_of_everybody(self, row: Certificate):
        signed = jwt.decode(row.token, options={"verify_signature": False})
        named = signed["credentialSubject"]["achievement"]
        answer = served(path_of(named["id"]))
        told = json.loads(answer.content)
        assert answer["Content-Type"] == "application/ld+json"
        same = ("id", "type", "achievementType", "name", "description", "version")
        assert {name: told[name] for name in same} == {name: named[name] for name in same}
        assert "Unit: " in told["criteria"]["narrative"]
        assert row.holder_name not in str(told) and row.code not in str(told)

    def test_a_version_that_no_certificate_names_is_nobodys_business(self, cast: Cast, row: Certificate):
        version = row.enrolment.version
        for academy_id, version_id in (
            (cast.other_academy.pk, version.pk),
            (row.academy_id, version.pk + 99),
        ):
            url = reverse("assessments:certified-programme", args=[academy_id, version_id])
            assert Client().get(url).status_code == 404
