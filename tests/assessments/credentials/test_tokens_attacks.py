"""Forged, changed, swapped and hostile tokens: each is refused, with the word for it."""

import hmac
import json

import jwt
import pytest
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.credentials.achievement import credential
from assessments.credentials.status_list import STATUS_LIST, status_credential
from assessments.credentials.tokens import LONGEST_TOKEN, Refusal, TokenRefused, sign, verify
from tests.factories.credentials import (
    ISSUER,
    facts,
    key,
    kid,
    list_facts,
    parts,
    published,
    segment,
    signed_anyway,
    token,
)

# RFC 7515 appendix A.2 without its signature; it names no key, so here it never comes to that.
RFC_7515_EXAMPLE = (
    "eyJhbGciOiJSUzI1NiJ9"
    ".eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcGxlLmNvbS9pc19yb290Ijp0cnVlfQ.c2ln"
)


def refusal(text: str, keys=None, issuer: str = ISSUER) -> Refusal:
    with pytest.raises(TokenRefused) as refused:
        verify(text, published() if keys is None else keys, issuer)
    return refused.value.reason


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
        " " + RFC_7515_EXAMPLE,
        RFC_7515_EXAMPLE + "\n",
        RFC_7515_EXAMPLE.replace(".", "=."),
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
    assert refusal(RFC_7515_EXAMPLE) == Refusal.HEADER
