"""Public halves of signing keys, and the three ways they are published."""

from base64 import urlsafe_b64encode
from collections.abc import Mapping
from hashlib import sha256
from json import dumps
from typing import Any, TypeAlias
from urllib.parse import urlsplit

from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey

ALGORITHM = "RS256"
Jwk: TypeAlias = dict[str, str]


def public_jwk(key: RSAPrivateKey) -> Jwk:
    """The public half as a JSON Web Key (RFC 7518 section 6.3.1); never a private member."""
    public = key.public_key().public_numbers()
    return {"kty": "RSA", "n": _number(public.n), "e": _number(public.e), "alg": ALGORITHM, "use": "sig"}


def thumbprint(jwk: Mapping[str, str]) -> str:
    """SHA-256 thumbprint of an RSA key in base64url (RFC 7638 section 3)."""
    members = {name: jwk[name] for name in ("e", "kty", "n")}
    return _encoded(sha256(dumps(members, separators=(",", ":"), sort_keys=True).encode()).digest())


def key_url(site_url: str, thumbprint: str) -> str:
    """Where the key can be fetched as one JWK: what a token names as its ``kid``."""
    return f"{site_url.rstrip('/')}/keys/{thumbprint}"


def did_web(site_url: str, *path: str) -> str:
    """The did:web name of a site or of a folder on it; the colon before a port is escaped."""
    host = urlsplit(site_url).netloc.replace(":", "%3A")
    return ":".join(("did", "web", host, *path))


def published_jwk(jwk: Mapping[str, str], kid: str) -> Jwk:
    """The key as it is served, under the name by which tokens call it."""
    return {**jwk, "kid": kid}


def jwks(keys: Mapping[str, Mapping[str, str]]) -> dict[str, Any]:
    """The set of keys for general JOSE tools (RFC 7517 section 5), by ``kid``."""
    return {"keys": [published_jwk(jwk, kid) for kid, jwk in keys.items()]}


def did_document(did: str, keys: Mapping[str, Mapping[str, str]]) -> dict[str, Any]:
    """The issuer's document: every key that ever signed for it, by ``kid``, may assert (W3C DID Core 1.0)."""
    methods = [_method(did, published_jwk(jwk, kid)) for kid, jwk in keys.items()]
    return {
        "@context": ["https://www.w3.org/ns/did/v1", "https://w3id.org/security/jwk/v1"],
        "id": did,
        "verificationMethod": methods,
        "assertionMethod": [method["id"] for method in methods],
    }


def _method(did: str, jwk: Jwk) -> dict[str, Any]:
    name = f"{did}#{thumbprint(jwk)}"
    return {"id": name, "type": "JsonWebKey", "controller": did, "publicKeyJwk": jwk}


def _number(value: int) -> str:
    return _encoded(value.to_bytes((value.bit_length() + 7) // 8, "big"))


def _encoded(raw: bytes) -> str:
    return urlsafe_b64encode(raw).rstrip(b"=").decode("ascii")
