"""Signed tokens: what we sign others accept, and nothing that anybody changed is accepted here."""

import hashlib
import hmac
import json
from base64 import urlsafe_b64decode
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

import jwt
import pytest
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.credentials.achievement import credential
from assessments.credentials.status_list import STATUS_LIST, status_credential
from assessments.credentials.tokens import (
    LONGEST_TOKEN,
    Refusal,
    Timeliness,
    TokenRefused,
    kid_of,
    sign,
    timeliness,
    verify,
)
from tests.factories.credentials import ISSUER, facts, key, kid, list_facts, published, segment, signed_anyway

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


@cache
def token() -> str:
    return sign(credential(facts()), key(), kid())


def parts(text: str) -> tuple[dict[str, Any], dict[str, Any], str]:
    header, payload, signature = text.split(".")
    return json.loads(raw(header)), json.loads(raw(payload)), signature


def raw(segment: str) -> bytes:
    return urlsafe_b64decode(segment + "=" * (-len(segment) % 4))


def refusal(text: str, keys=None, issuer: str = ISSUER) -> Refusal:
    with pytest.raises(TokenRefused) as refused:
        verify(text, published() if keys is None else keys, issuer)
    return refused.value.reason


def is_rs256(text: str, modulus: int) -> bool:
    """RSASSA-PKCS1-v1_5 by whole numbers alone: RFC 8017 sections 8.2.2 and 9.2."""
    signing_input, _, signature = text.rpartition(".")
    length = (modulus.bit_length() + 7) // 8
    opened = pow(int.from_bytes(raw(signature), "big"), 65_537, modulus).to_bytes(length, "big")
    tail = b"\0" + SHA_256_DIGEST_INFO + hashlib.sha256(signing_input.encode()).digest()
    return opened == b"\0\1" + b"\xff" * (length - 2 - len(tail)) + tail


# --- What we sign ---


def test_the_arithmetic_below_accepts_the_published_example_and_no_change_of_it():
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


@settings(deadline=None)
@given(st.integers(min_value=0), st.integers(min_value=1, max_value=63))
def test_two_libraries_and_we_agree_on_any_changed_symbol(at, shift):
    """Symbols are swapped for others; some swaps leave the decoded bytes as they were, and none may pass."""
    symbols = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
    at %= len(token())
    if token()[at] == ".":
        return
    other = symbols[(symbols.index(token()[at]) + shift) % 64]
    changed = token()[:at] + other + token()[at + 1 :]
    assert refusal(changed) in {
        Refusal.CHANGED,
        Refusal.MALFORMED,
        Refusal.HEADER,
        Refusal.ALGORITHM,
        Refusal.UNKNOWN_KEY,
    }
    with pytest.raises(jwt.InvalidTokenError):
        jwt.decode(
            changed, jwt.PyJWK(published()[kid()]), algorithms=["RS256"], options={"verify_exp": False}
        )


# --- Attacks ---


def test_a_changed_level_is_noticed():
    _, payload, signature = parts(token())
    payload["credentialSubject"]["result"][0]["achievedLevel"] = "https://fanlight.example/x#isolation-4"
    assert refusal(f"{token().split('.')[0]}.{segment(payload)}.{signature}") == Refusal.CHANGED


def test_a_swapped_subject_is_noticed():
    other = sign(credential(facts(holder_name="Omar Reed")), key(), kid())
    header, _, signature = token().split(".")
    assert refusal(f"{header}.{other.split('.')[1]}.{signature}") == Refusal.CHANGED


def test_a_token_without_signature_is_refused():
    """RFC 8725 section 2.1: alg none."""
    _, payload, _ = parts(token())
    header = {"alg": "none", "kid": kid(), "typ": "JWT"}
    assert refusal(f"{segment(header)}.{segment(payload)}.") == Refusal.ALGORITHM
    assert refusal(f"{segment({**header, 'alg': 'None'})}.{segment(payload)}.") == Refusal.ALGORITHM
    assert refusal(".".join(token().split(".")[:2]) + ".") == Refusal.CHANGED


def test_a_public_key_does_not_serve_as_a_shared_secret():
    """RFC 8725 section 2.1: HS256 with the text of the RSA key."""
    _, payload, _ = parts(token())
    body = f"{segment({'alg': 'HS256', 'kid': kid(), 'typ': 'JWT'})}.{segment(payload)}"
    pem = key().public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    for secret in (pem, pem.strip(), json.dumps(published()[kid()]).encode()):
        forged = f"{body}.{segment(hmac.digest(secret, body.encode(), 'sha256'))}"
        assert refusal(forged) == Refusal.ALGORITHM


@pytest.mark.parametrize(
    "algorithm", ["RS384", "RS512", "PS256", "ES256", "EdDSA", "HS256", "rs256", "", None, 1]
)
def test_any_other_algorithm_is_refused(algorithm):
    header = {"alg": algorithm, "kid": kid(), "typ": "JWT"}
    assert refusal(signed_anyway(header, parts(token())[1])) == Refusal.ALGORITHM


def test_the_key_of_another_issuer_does_not_sign_for_this_one():
    foreign = sign(credential(facts()), key("other"), kid("other"))
    assert refusal(foreign) == Refusal.UNKNOWN_KEY
    posing = sign(credential(facts()), key("other"), kid("own"))
    assert refusal(posing) == Refusal.CHANGED


def test_a_certificate_of_another_academy_is_refused_though_its_key_is_known():
    """Its own key, our list of keys, and the name of an issuer whose key it is not."""
    neighbour = sign(credential(facts()), key("other"), kid("other"))
    assert refusal(neighbour, published("own", "other"), "did:web:fanlight.example:schools:8") == (
        Refusal.OTHER_ISSUER
    )


@pytest.mark.parametrize(
    "elsewhere",
    [
        "https://evil.example/keys/abc",
        "https://fanlight.example/keys/../keys/abc",
        "file:///etc/passwd",
        "' OR 1=1 --",
        "",
    ],
)
def test_a_key_that_lies_elsewhere_is_never_fetched(elsewhere, monkeypatch):
    def nobody_calls(*args, **kwargs):
        raise AssertionError("a verifier must not open connections")

    monkeypatch.setattr("socket.socket.connect", nobody_calls)
    assert refusal(sign(credential(facts()), key("other"), elsewhere)) == Refusal.UNKNOWN_KEY


@pytest.mark.parametrize(
    "more",
    [
        {"jwk": {"kty": "RSA"}},
        {"jku": "https://evil.example/keys"},
        {"x5u": "https://evil.example/cert"},
        {"crit": ["exp"], "exp": 1},
        {"b64": False},
        {"typ": "vc+jwt"},
        {"typ": None},
        {"kid": 5},
        {"kid": ["a"]},
    ],
)
def test_a_header_that_asks_for_anything_else_is_refused_whoever_signed_it(more):
    """RFC 8725 sections 3.10 to 3.12."""
    header = {"alg": "RS256", "kid": kid(), "typ": "JWT", **more}
    assert refusal(signed_anyway(header, parts(token())[1])) == Refusal.HEADER


def test_a_key_inside_the_token_is_not_believed():
    forged_key = {**published("other")[kid("other")]}
    header = {"alg": "RS256", "kid": kid(), "typ": "JWT", "jwk": forged_key}
    assert refusal(signed_anyway(header, parts(token())[1], "other")) == Refusal.HEADER


@pytest.mark.parametrize(
    "change",
    [
        {"sub": "urn:uuid:00000000-0000-0000-0000-000000000000"},
        {"jti": "https://fanlight.example/v/OTHER"},
        {"nbf": 0},
        {"exp": 32_503_680_000},
        {"validFrom": "1999-01-01T00:00:00Z"},
        {"validFrom": "soon"},
        {"validFrom": None},
        {"credentialSubject": "Ada"},
        {"issuer": 5},
        {"id": None},
    ],
)
def test_claims_that_contradict_the_credential_are_refused(change):
    payload = {**parts(token())[1], **change}
    told = {"alg": "RS256", "kid": kid(), "typ": "JWT"}
    assert refusal(signed_anyway(told, payload)) == Refusal.CLAIMS


@pytest.mark.parametrize("missing", ["sub", "jti", "nbf", "exp"])
def test_a_missing_claim_is_refused(missing):
    payload = parts(token())[1]
    del payload[missing]
    told = {"alg": "RS256", "kid": kid(), "typ": "JWT"}
    assert refusal(signed_anyway(told, payload)) == Refusal.CLAIMS


def test_a_status_list_is_not_a_certificate_nor_the_other_way_round():
    """RFC 8725 section 3.12: two kinds of token signed with one key must not pass for each other."""
    listed = sign(status_credential(list_facts(5)), key(), kid())
    assert refusal(listed) == Refusal.OTHER_KIND
    with pytest.raises(TokenRefused) as refused:
        verify(token(), published(), ISSUER, kind=STATUS_LIST)
    assert refused.value.reason == Refusal.OTHER_KIND


@pytest.mark.parametrize("types", [None, 5, "OpenBadgeCredential", "NotAnOpenBadgeCredential", {}, [5], []])
def test_a_kind_is_named_in_a_list_or_not_at_all(types):
    payload = {**parts(token())[1], "type": types}
    told = {"alg": "RS256", "kid": kid(), "typ": "JWT"}
    assert refusal(signed_anyway(told, payload)) == Refusal.OTHER_KIND


@pytest.mark.parametrize("payload", [[], "certificate", 5, None, b"nonsense", b"", b"[" * 60_000, b"\xff"])
def test_a_payload_that_is_no_object_is_refused_whoever_signed_it(payload):
    told = {"alg": "RS256", "kid": kid(), "typ": "JWT"}
    assert refusal(signed_anyway(told, payload)) == Refusal.MALFORMED


@pytest.mark.parametrize(
    "hostile",
    [
        "",
        "...",
        "a.b",
        "a.b.c.d",
        "e30.e30.",
        segment(b"[]") + ".e30.AA",
        segment(b"nonsense") + ".e30.AA",
        segment(b"\xff\xfe") + ".e30.AA",
        segment(b"[" * 60_000) + ".e30.AA",
        " " + RFC_7515_TOKEN,
        RFC_7515_TOKEN + "\n",
        RFC_7515_TOKEN.replace(".", "=."),
        "<script>.e30.AA",
        "é.e30.AA",
    ],
)
def test_what_is_no_token_is_refused_in_words(hostile):
    assert refusal(hostile) in {Refusal.MALFORMED, Refusal.ALGORITHM}


@pytest.mark.parametrize("payload", ["A", "AB", "AAAAA", "e31", "__"])
@pytest.mark.parametrize("signature", ["", "A", "AB", "AAAA"])
def test_segments_that_no_encoder_writes_are_refused_in_words(payload, signature):
    """RFC 4648 section 3.5: bits left over must be zero, and one symbol alone is no byte."""
    header = segment({"alg": "RS256", "kid": kid(), "typ": "JWT"})
    assert refusal(f"{header}.{payload}.{signature}") in {Refusal.CHANGED, Refusal.MALFORMED}


def test_an_endless_token_is_not_read():
    assert refusal("a" * LONGEST_TOKEN + ".b.c") == Refusal.TOO_LARGE


@settings(deadline=None)
@given(st.text() | st.binary().map(lambda data: f"{segment(data)}.{segment(data)}.{segment(data)}"))
def test_any_text_is_refused_and_nothing_else_happens(text):
    assert isinstance(refusal(text), Refusal)


@settings(deadline=None)
@given(
    st.dictionaries(
        st.sampled_from(["alg", "kid", "typ", "jwk", "crit"]),
        st.none()
        | st.booleans()
        | st.integers()
        | st.sampled_from(["RS256", "JWT", kid()])
        | st.lists(st.text()),
    )
)
def test_any_header_is_refused_without_a_true_signature(header):
    assert isinstance(refusal(f"{segment(header)}.e30.AAAA"), Refusal)


@pytest.mark.parametrize("reason", Refusal)
def test_every_refusal_is_a_sentence(reason):
    assert str(TokenRefused(reason)).endswith(".")


def test_the_published_example_is_refused_here_for_it_names_no_key():
    assert refusal(RFC_7515_TOKEN) == Refusal.HEADER


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
