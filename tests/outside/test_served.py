"""From issue to a stranger's verdict: everything is fetched from the addresses that the certificate names."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from json import loads
from typing import Any
from urllib.parse import unquote

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.models import Certificate
from assessments.services.certificates import (
    reissue_certificate,
    restore_certificate,
    revoke_certificate,
    suspend_certificate,
)
from assessments.services.signing_keys import make_signing_key
from tests.factories.academy import Cast
from tests.factories.certificates import certified_ada
from tests.factories.credentials import parts
from tests.outside.tools import said_by, verdict

pytestmark = [pytest.mark.django_db, pytest.mark.outside]


@pytest.fixture
def row(cast: Cast) -> Certificate:
    return certified_ada(cast)


@pytest.fixture
def decide(row: Certificate, cast: Cast) -> Callable[..., Any]:
    def done(service: Callable[..., Any], **more: Any) -> Any:
        return service(certificate=row, reason="Invented", actor=cast.owner, now=timezone.now(), **more)

    return done


def fetched(url: str) -> str:
    """What a stranger gets at an address of this site."""
    answer = Client().get(url.removeprefix(settings.SITE_URL))
    assert answer.status_code == 200, url
    return answer.content.decode()


def asked(token: str) -> dict[str, Any]:
    """A stranger's question: keys and lists as they are served, on the second day of the certificate."""
    told = parts(token)[1]
    lists = [told["credentialStatus"]["statusListCredential"]]  # one entry, as Open Badges 3.0 has it
    return verdict(
        {
            "token": token,
            "lists": {url: fetched(url) for url in lists},
            "jwks": loads(fetched("/.well-known/jwks.json")),
            "issuer": told["issuer"]["id"],
            "at": (datetime.fromtimestamp(told["nbf"], UTC) + timedelta(days=1)).isoformat(),
        }
    )


def test_an_issued_certificate_is_accepted_with_what_the_site_publishes(row):
    found = asked(row.token)
    assert (found["signed"], found["lists"], found["model"], found["set"]) == ([], [], [], [])
    assert found["accepted"]


def test_suspended_restored_and_revoked_are_seen_by_strangers(row, decide):
    decide(suspend_certificate)
    assert asked(row.token)["set"] == ["suspension"]
    decide(restore_certificate)
    assert asked(row.token)["accepted"]
    decide(revoke_certificate)
    assert not asked(row.token)["accepted"]


def test_after_a_change_of_name_only_the_new_one_is_accepted(row, decide):
    new = decide(reissue_certificate, holder_name="Ada Holm")
    assert not asked(row.token)["accepted"]
    assert asked(new.token)["accepted"]


def test_after_the_key_was_changed_older_certificates_are_still_accepted(row, cast):
    make_signing_key(academy=cast.academy, now=timezone.now())
    found = asked(row.token)
    assert found["accepted"] and len(found["thumbprints"]) == 2


def test_the_key_lies_where_the_certificate_says_as_one_jwk(row):
    """Open Badges 3.0: kid resolves to a single JWK, not a set."""
    kid = parts(row.token)[0]["kid"]
    found = loads(fetched(kid))
    assert found["kid"] == kid and found["kty"] == "RSA" and "keys" not in found


def test_the_schools_document_lies_where_its_name_says_and_holds_that_key(row):
    """did:web Method Specification, section 3.2: colons become slashes, the host is unescaped."""
    did = parts(row.token)[1]["issuer"]["id"]
    host, *path = did.removeprefix("did:web:").split(":")
    scheme = settings.SITE_URL.partition("//")[0]
    document = loads(fetched(f"{scheme}//{unquote(host)}/{'/'.join(path or ['.well-known'])}/did.json"))
    assert document["id"] == did
    (method,) = (each for each in document["verificationMethod"] if each["id"] in document["assertionMethod"])
    assert method["publicKeyJwk"]["kid"] == parts(row.token)[0]["kid"]


def test_badge_and_print_as_downloaded_carry_that_certificate(row, cast, client_for, tmp_path):
    badge, printed = tmp_path / "badge.png", tmp_path / "certificate.pdf"
    for name, path in (("badge", badge), ("pdf", printed)):
        answer = client_for(cast.ada).get(reverse(f"assessments:certificate-{name}", args=[row.pk]))
        path.write_bytes(answer.content)
    assert said_by("exiftool", "-b", "-Openbadgecredential", badge).decode() == row.token
    assert "No errors detected" in said_by("pngcheck", "-v", badge).decode()
    (name,) = (
        line.split(" -> ")[0] for line in said_by("qpdf", "--list-attachments", printed).decode().splitlines()
    )
    assert said_by("qpdf", f"--show-attachment={name}", printed).decode() == row.token
