"""Keys as others fetch them: by thumbprint, as a set, and in the issuer's document."""

import json

import jwt
import pytest
from joserfc.jwk import KeySet, RSAKey

from assessments.credentials.keys import (
    did_document,
    did_web,
    jwks,
    key_url,
    public_jwk,
    thumbprint,
)
from tests.factories.credentials import ISSUER, SITE, key, kid, published

PRIVATE = {"d", "p", "q", "dp", "dq", "qi", "oth"}  # RFC 7518 section 6.3.2

# RFC 7638 section 3.1: the key of the worked example and its thumbprint.
RFC_7638_KEY = {
    "kty": "RSA",
    "n": "0vx7agoebGcQSuuPiLJXZptN9nndrQmbXEps2aiAFbWhM78LhWx4cbbfAAtVT86zwu1RK7aPFFxuhDR1L6tSoc"
    "_BJECPebWKRXjBZCiFV4n3oknjhMstn64tZ_2W-5JsGY4Hc5n9yBXArwl93lqt7_RN5w6Cf0h4QyQ5v-65YGjQ"
    "R0_FDW2QvzqY368QQMicAtaSqzs8KJZgnYb9c7d0zgdAZHzu6qMQvRL5hajrn1n91CbOpbISD08qNLyrdkt-bF"
    "TWhAI4vMQFh6WeZu0fM4lFd2NcRwr3XPksINHaQ-G_xBniIqbw0Ls1jF44-csFCur-kEgU8awapJzKnqDKgw",
    "e": "AQAB",
    "alg": "RS256",
    "kid": "2011-04-29",
}
RFC_7638_THUMBPRINT = "NzbLsXh8uDCcd-6MNwXF4W_7noWXFZAfHkxZsRGC9Xs"


def test_the_thumbprint_is_that_of_the_worked_example():
    assert thumbprint(RFC_7638_KEY) == RFC_7638_THUMBPRINT


def test_two_libraries_compute_the_same_thumbprint():
    own = public_jwk(key())
    assert RSAKey.import_key(dict(own)).thumbprint() == thumbprint(own)


def test_name_and_use_do_not_change_the_thumbprint():
    own = public_jwk(key())
    assert thumbprint({**own, "kid": "x", "use": "enc"}) == thumbprint({n: own[n] for n in ("e", "kty", "n")})


def test_the_public_half_has_nothing_private_and_reads_back_as_the_same_key():
    own = public_jwk(key())
    assert not PRIVATE & set(own)
    assert (own["kty"], own["alg"], own["use"], own["e"]) == ("RSA", "RS256", "sig", "AQAB")
    read = jwt.PyJWK(own).key
    assert read.public_numbers() == key().public_key().public_numbers()


def test_a_key_is_fetched_under_its_thumbprint():
    assert key_url(f"{SITE}/", "abc") == key_url(SITE, "abc") == "https://fanlight.example/keys/abc"


@pytest.mark.parametrize(
    ("site", "path", "did"),
    [
        # did:web Method Specification, section 2.1: host, path and escaped port.
        ("https://w3c-ccg.github.io", (), "did:web:w3c-ccg.github.io"),
        ("https://w3c-ccg.github.io", ("user", "alice"), "did:web:w3c-ccg.github.io:user:alice"),
        ("https://example.com:3000", ("user", "alice"), "did:web:example.com%3A3000:user:alice"),
    ],
)
def test_the_issuers_name_is_made_of_its_address(site, path, did):
    assert did_web(site, *path) == did


def test_the_set_names_each_key_as_tokens_do():
    told = jwks(published("own", "older"))
    assert [each["kid"] for each in told["keys"]] == [kid("own"), kid("older")]
    read = KeySet.import_key_set(json.loads(json.dumps(told)))
    assert not any(each.is_private for each in read.keys)


def test_the_issuers_document_lets_every_key_assert():
    """DID Core 1.0 sections 5.2.1 and 5.3.2: no private members, each method controlled by the issuer."""
    keys = published("own", "older")
    told = did_document(ISSUER, keys)
    methods = told["verificationMethod"]
    assert told["id"] == ISSUER
    assert told["assertionMethod"] == [method["id"] for method in methods]
    assert [method["id"] for method in methods] == [f"{ISSUER}#{thumbprint(jwk)}" for jwk in keys.values()]
    assert {method["controller"] for method in methods} == {ISSUER}
    assert [method["publicKeyJwk"]["kid"] for method in methods] == [kid("own"), kid("older")]
    assert not any(PRIVATE & set(method["publicKeyJwk"]) for method in methods)
