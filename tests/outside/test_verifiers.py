"""Certificates before verifiers that share no line with us: jose and the packages for verifiable credentials
of npm, and OpenSSL. They accept what is genuine and in force, and nothing else.
"""

from base64 import urlsafe_b64decode
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from assessments.credentials.achievement import credential
from assessments.credentials.keys import jwks, public_jwk, thumbprint
from assessments.credentials.status_list import PURPOSES, REVOCATION, SUSPENSION, status_credential
from assessments.credentials.tokens import sign
from tests.factories.credentials import (
    ISSUER,
    PLACE,
    facts,
    key,
    kid,
    list_facts,
    published,
    signed_anyway,
    status_url,
)
from tests.outside.tools import said_by, verdict

IN_FORCE = datetime(2027, 1, 1, tzinfo=UTC)

pytestmark = pytest.mark.outside


def signed(told: dict[str, Any], which: str = "own", name: str | None = None) -> str:
    return sign(told, key(which), name or kid(which))


def lists(
    *, revocation: Iterable[int] = (), suspension: Iterable[int] = (), **changes: Any
) -> dict[str, str]:
    """Both lists as served this minute: the packages read them by the clock of the machine."""
    made = {"made_at": datetime.now(UTC), **changes}
    places = {REVOCATION: revocation, SUSPENSION: suspension}
    return {
        status_url(purpose): signed(status_credential(list_facts(*indexes, purpose=purpose, **made)))
        for purpose, indexes in places.items()
    }


def ask(token: str, **changes: Any) -> dict[str, Any]:
    question = {
        "token": token,
        "lists": lists(),
        "jwks": jwks(published("own", "older")),
        "issuer": ISSUER,
        "at": IN_FORCE.isoformat(),
    }
    return verdict({**question, **changes})


def test_a_certificate_in_force_is_accepted_with_every_member_understood():
    found = ask(signed(credential(facts())))
    assert (found["signed"], found["lists"], found["model"], found["set"]) == ([], [], [], [])
    assert found["accepted"]


def test_so_is_one_without_end_results_or_dates_and_with_a_single_status():
    bare = facts(
        valid_until=None, skills=(), figures=(), started_on=None, ended_on=None, statuses=facts().statuses[:1]
    )
    assert ask(signed(credential(bare)))["accepted"]


def test_so_is_one_signed_before_the_key_was_changed():
    assert ask(signed(credential(facts()), "older"))["accepted"]


@pytest.mark.parametrize("purpose", PURPOSES)
def test_a_certificate_that_is_revoked_or_suspended_is_refused_by_its_status_alone(purpose):
    """The package's own word stays `verified`: whoever reads only that accepts a revoked certificate."""
    found = ask(signed(credential(facts())), lists=lists(**{purpose: [PLACE]}))
    assert found["verified"] is True
    assert found["set"] == [purpose]
    assert not found["accepted"]


def test_revoked_and_suspended_are_told_apart_and_a_restored_one_is_accepted_again():
    token = signed(credential(facts()))
    assert ask(token, lists=lists(revocation=[PLACE], suspension=[PLACE]))["set"] == [REVOCATION, SUSPENSION]
    assert ask(token, lists=lists(suspension=[PLACE]))["set"] == [SUSPENSION]
    assert ask(token, lists=lists())["accepted"]


def test_the_neighbours_in_a_list_do_not_count():
    beside = (PLACE - 1, PLACE + 1)
    assert ask(signed(credential(facts())), lists=lists(revocation=beside, suspension=beside))["accepted"]


@pytest.mark.parametrize("at", ["2026-01-01T00:00:00Z", "2029-01-01T00:00:00Z"])
def test_before_its_first_and_after_its_last_day_it_is_refused(at):
    found = ask(signed(credential(facts())), at=at)
    assert found["signed"] and not found["accepted"]


def test_an_old_list_shown_in_place_of_a_newer_one_is_refused():
    old = lists(made_at=datetime.now(UTC) - timedelta(hours=2))
    found = ask(signed(credential(facts())), lists=old)
    assert any("ERR_JWT_EXPIRED" in problem for problem in found["lists"])
    assert not found["accepted"]


def test_a_list_of_another_purpose_or_issuer_is_refused():
    swapped = dict(zip(reversed(lists()), lists().values(), strict=True))
    assert not ask(signed(credential(facts())), lists=swapped)["accepted"]
    assert not ask(signed(credential(facts())), lists=lists(issuer="did:web:evil.example"))["accepted"]


def test_a_member_that_the_vocabularies_do_not_know_is_refused():
    """Undefined terms would be signed and yet mean nothing: JSON-LD 1.1, safe mode of the package."""
    told = credential(facts())
    told["credentialSubject"]["secretNote"] = "x"
    found = ask(signed(told))
    assert found["signed"] == [] and found["model"] == ["invalid property"]
    assert not found["accepted"]


def test_a_certificate_signed_by_another_key_is_refused():
    assert ask(signed(credential(facts()), "other"))["signed"] == ["ERR_JWKS_NO_MATCHING_KEY"]
    posing = ask(signed(credential(facts()), "other", kid("own")))
    assert posing["signed"] == ["ERR_JWS_SIGNATURE_VERIFICATION_FAILED"]


def test_a_certificate_in_another_schools_name_is_refused():
    found = ask(signed(credential(facts())), issuer="did:web:fanlight.example:schools:8")
    assert found["signed"] == ["ERR_JWT_CLAIM_VALIDATION_FAILED"]


@pytest.mark.parametrize("algorithm", ["none", "HS256", "ES256", "RS512"])
def test_another_algorithm_is_refused(algorithm):
    header = {"alg": algorithm, "kid": kid(), "typ": "JWT"}
    assert not ask(signed_anyway(header, credential(facts())))["accepted"]


def test_thumbprints_are_those_that_jose_computes():
    found = ask(signed(credential(facts())))
    assert found["thumbprints"] == [thumbprint(public_jwk(key(each))) for each in ("own", "older")]


def test_openssl_accepts_the_signature_and_no_changed_byte(tmp_path):
    token = signed(credential(facts()))
    signing_input, _, signature = token.rpartition(".")
    public, mark = tmp_path / "public.pem", tmp_path / "signature"
    public.write_bytes(key().public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo))
    mark.write_bytes(urlsafe_b64decode(signature + "=="))
    command = ("dgst", "-sha256", "-verify", public, "-signature", mark)
    assert b"Verified OK" in said_by("openssl", *command, stdin=signing_input.encode())
    with pytest.raises(pytest.fail.Exception, match=r"openssl: Verification failure"):
        said_by("openssl", *command, stdin=signing_input.encode() + b"x")
