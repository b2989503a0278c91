"""Signed tokens: what we sign, others accept and read the same."""

import hashlib
from datetime import UTC, datetime, timedelta

import jwt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.credentials.achievement import credential
from assessments.credentials.tokens import (
    Timeliness,
    kid_of,
    sign,
    timeliness,
    verify,
)
from tests.factories.credentials import ISSUER, facts, key, kid, parts, published, raw, token

SHA_256_DIGEST_INFO = bytes.fromhex("3031300d060960864801650304020105000420")  # RFC 8017 section 9.2, note 1

# RFC 7515 appendix A.2: modulus, signing input and signature of the RS256 example.
RFC_7515_N = (
    "ofgWCuLjybRlzo0tZWJjNiuSfb4p4fAkd_wWJcyQoTbji9k0l8W26mPddxHmfHQp-Vaw-4qPCJrcS2mJPMEzP1Pt0Bm4d4QlL-yRT-SF"
    "d2lZS-pCgNMsD1W_YpRPEwOWvG6b32690r2jZ47soMZo9wGzjb_7OMg0LOL-bSf63kpaSHSXndS5z5rexMdbBYUsLA9e-KXBdQOS-UTo"
    "7WTBEMa2R2CapHg665xsmtdVMTBQY4uDZlxvb3qCo5ZwKh9kG4LT6_I5IhlJH7aGhyxXFvUK-DWNmoudF8NAco9_h9iaGNj8q2ethFkM"
    "Ls91kzk2PAcDTW9gb54h4FRWyuXpoQ"
)
RFC_7515_TOKEN = (
    "eyJhbGciOiJSUzI1NiJ9"
    ".eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcGxlLmNvbS9pc19yb290Ijp0cnVlfQ"
    ".cC4hiUPoj9Eetdgtv3hF80EGrhuB__dzERat0XF9g2VtQgr9PJbu3XOiZj5RZmh7AAuHIm4Bh-0Qc_lF5YKt_O8W2Fp5jujGbds9uJdb"
    "F9CUAr7t1dnZcAcQjbKBYNX4BAynRFdiuB--f_nZLgrnbyTyWzO75vRK5h6xBArLIARNPvkSjtQBMHlb1L07Qe7K0GarZRmB_eSN9383"
    "LcOLn6_dO--xi12jzDwusC-eOkHWEsqtFZESc6BfI7noOPqvhJ1phCnvWh6IeYI2w9QOYEUipUTI8np6LbgGY9Fs98rqVt5AXLIhWkWy"
    "wlVmtVrBp0igcN_IoypGlUPQGe77Rw"
)


def is_rs256(text: str, modulus: int) -> bool:
    """RSASSA-PKCS1-v1_5 by whole numbers alone: RFC 8017 sections 8.2.2 and 9.2."""
    signing_input, _, signature = text.rpartition(".")
    length = (modulus.bit_length() + 7) // 8
    opened = pow(int.from_bytes(raw(signature), "big"), 65_537, modulus).to_bytes(length, "big")
    tail = b"\0" + SHA_256_DIGEST_INFO + hashlib.sha256(signing_input.encode()).digest()
    return opened == b"\0\1" + b"\xff" * (length - 2 - len(tail)) + tail


# --- What we sign ---


def test_the_arithmetic_above_accepts_the_published_example_and_no_change_of_it():
    modulus = int.from_bytes(raw(RFC_7515_N), "big")
    assert is_rs256(RFC_7515_TOKEN, modulus)
    assert not is_rs256(RFC_7515_TOKEN.replace("eyJpc3Mi", "eyJpc3Nj"), modulus)


def test_our_signature_is_rs256_by_that_arithmetic():
    assert is_rs256(token(), key().public_key().public_numbers().n)


def test_the_header_holds_algorithm_key_and_type_only():
    """Open Badges 3.0: alg, kid, jwk and typ are all that may stand there, and typ is JWT."""
    assert parts(token())[0] == {"alg": "RS256", "kid": kid(), "typ": "JWT"}


def test_the_claims_repeat_the_credential_which_is_not_wrapped():
    """Open Badges 3.0, JWT proof format: members at the top, no vc member; RFC 7519: seconds since 1970."""
    _, payload, _ = parts(token())
    assert payload["iss"] == payload["issuer"]["id"] == ISSUER
    assert payload["jti"] == payload["id"]
    assert payload["sub"] == payload["credentialSubject"]["id"]
    assert payload["nbf"] == datetime(2026, 3, 2, 9, tzinfo=UTC).timestamp()
    assert payload["exp"] == datetime(2028, 3, 2, 9, tzinfo=UTC).timestamp()
    assert "vc" not in payload


def test_a_certificate_without_end_has_no_expiry_claim():
    endless = sign(credential(facts(valid_until=None)), key(), kid())
    assert "exp" not in parts(endless)[1]
    assert "validUntil" not in verify(endless, published(), ISSUER)


def test_the_same_record_gives_the_same_bytes():
    assert sign(credential(facts()), key(), kid()) == token()


@settings(deadline=None)
@given(st.text(min_size=1, max_size=60))
def test_what_is_signed_comes_back_whole(name):
    told = credential(facts(holder_name=name))
    assert verify(sign(told, key(), kid()), published(), ISSUER) == told


@pytest.mark.parametrize(
    "name", ["Nguyễn Thị Thùy Dương", "Łucja Brzęczyszczykiewicz", "김서연", "Алёна Щукина"]
)
def test_names_of_every_script_come_back(name):
    told = credential(facts(holder_name=name))
    assert verify(sign(told, key(), kid()), published(), ISSUER) == told


def test_a_second_library_accepts_it_and_reads_the_same():
    own = verify(token(), published(), ISSUER)
    read = jwt.decode(
        token(),
        jwt.PyJWK(published()[kid()]),
        algorithms=["RS256"],
        issuer=ISSUER,
        options={"require": ["iss", "jti", "sub", "nbf", "exp"], "verify_exp": False},
    )
    assert {name: value for name, value in read.items() if name in own} == own


# --- Looking up the key, and time ---


def test_the_key_is_named_before_anything_is_proven():
    assert kid_of(token()) == kid()


@pytest.mark.parametrize(
    ("moment", "word"),
    [
        (datetime(2026, 3, 2, 9, tzinfo=UTC) - timedelta(seconds=1), Timeliness.NOT_YET),
        (datetime(2026, 3, 2, 9, tzinfo=UTC), Timeliness.CURRENT),
        (datetime(2028, 3, 2, 9, tzinfo=UTC) - timedelta(seconds=1), Timeliness.CURRENT),
        (datetime(2028, 3, 2, 9, tzinfo=UTC), Timeliness.EXPIRED),
    ],
)
def test_time_is_counted_as_the_claims_are(moment, word):
    """RFC 7519 sections 4.1.4 and 4.1.5: not before nbf, and not on or after exp."""
    assert timeliness(credential(facts()), moment) == word


def test_without_an_end_it_stays_current():
    endless = credential(facts(valid_until=None))
    assert timeliness(endless, datetime(2999, 1, 1, tzinfo=UTC)) == Timeliness.CURRENT
