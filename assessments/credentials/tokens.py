"""Signed tokens: compact JWS, RS256 and nothing else, checked against our own list of keys only.

The library is loaded at first use: a web process starts without it.
"""

import json
import re
from base64 import urlsafe_b64decode
from collections.abc import Mapping
from datetime import datetime
from enum import StrEnum
from typing import Any, NoReturn

from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey

from assessments.credentials.keys import ALGORITHM

LONGEST_TOKEN = 120_000  # characters
CERTIFICATE = "OpenBadgeCredential"
TYPE = "JWT"  # Open Badges 3.0 asks for this one where VC-JOSE-COSE would prefer vc+jwt
_COMPACT = re.compile(r"[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]*")
_HEADER = {"alg", "kid", "typ"}
_REGISTERED = {"iss", "jti", "sub", "nbf", "exp"}


class Refusal(StrEnum):
    TOO_LARGE = "too_large"
    MALFORMED = "malformed"
    ALGORITHM = "algorithm"
    HEADER = "header"
    UNKNOWN_KEY = "unknown_key"
    CHANGED = "changed"
    OTHER_ISSUER = "other_issuer"
    OTHER_KIND = "other_kind"
    CLAIMS = "claims"
    OTHER_LIST = "other_list"
    STALE = "stale"


_WORDS = {
    Refusal.TOO_LARGE: "This is far longer than a certificate. Hand in the file as it was downloaded.",
    Refusal.MALFORMED: "This is not a signed certificate. Hand in the file as it was downloaded.",
    Refusal.ALGORITHM: "This was not signed in the one way we sign. It is not a certificate from here.",
    Refusal.HEADER: "This asks to be checked in a way we do not use. It is not a certificate from here.",
    Refusal.UNKNOWN_KEY: "This names a key that is not one of ours. It is not a certificate from here.",
    Refusal.CHANGED: "The signature does not fit: the certificate was changed or signed by somebody else.",
    Refusal.OTHER_ISSUER: "This was signed for another school than the one it names.",
    Refusal.OTHER_KIND: "This was signed here, but it is not a certificate. Hand in the certificate's file.",
    Refusal.CLAIMS: "The parts of this certificate contradict each other. It is not a certificate from here.",
    Refusal.OTHER_LIST: "This is not the status list that was asked for. Fetch it again.",
    Refusal.STALE: "This status list is out of date. Fetch it again.",
}


class TokenRefused(Exception):
    """Not a genuine token of this issuer. `reason` tells programs why, the text tells people."""

    def __init__(self, reason: Refusal) -> None:
        super().__init__(_WORDS[reason])
        self.reason = reason


class Timeliness(StrEnum):
    CURRENT = "current"
    NOT_YET = "not_yet"
    EXPIRED = "expired"


def sign(credential: Mapping[str, Any], key: RSAPrivateKey, kid: str) -> str:
    """The credential as a compact JWS; the same credential and key give the same token (RFC 8017, 8.2.1)."""
    from joserfc.jwk import RSAKey
    from joserfc.jws import serialize_compact

    header = {"alg": ALGORITHM, "kid": kid, "typ": TYPE}
    payload = json.dumps({**credential, **_claims(credential)}, ensure_ascii=False, separators=(",", ":"))
    return serialize_compact(header, payload.encode(), RSAKey.import_key(key), algorithms=[ALGORITHM])


def kid_of(token: str) -> str:
    """The key the token says it is signed with, to look it up in our own list; proves nothing yet."""
    if len(token) > LONGEST_TOKEN:
        raise TokenRefused(Refusal.TOO_LARGE)
    header = _header(token)
    if header.get("alg") != ALGORITHM:
        raise TokenRefused(Refusal.ALGORITHM)
    kid = header.get("kid")
    if set(header) != _HEADER or header["typ"] != TYPE or not isinstance(kid, str):
        raise TokenRefused(Refusal.HEADER)
    return kid


def verify(
    token: str, keys: Mapping[str, Mapping[str, str]], issuer: str, *, kind: str = CERTIFICATE
) -> dict[str, Any]:
    """The credential, as it was signed, in a token of `issuer` under one of its `keys` (JWKs by `kid`).

    `kind`: a type it must have, for the same keys also sign status lists. Whether it is current is another
    question: see `timeliness`. Raises TokenRefused.
    """
    jwk = keys.get(kid_of(token))
    if jwk is None:
        raise TokenRefused(Refusal.UNKNOWN_KEY)
    payload = _signed_payload(token, jwk)
    credential = {name: value for name, value in payload.items() if name not in _REGISTERED}
    if payload.get("iss") != issuer:
        raise TokenRefused(Refusal.OTHER_ISSUER)
    types = credential.get("type")
    if not isinstance(types, list) or kind not in types:
        raise TokenRefused(Refusal.OTHER_KIND)
    if {name: payload[name] for name in _REGISTERED & set(payload)} != _claims_or_refusal(credential):
        raise TokenRefused(Refusal.CLAIMS)
    return credential


def timeliness(credential: Mapping[str, Any], at: datetime) -> Timeliness:
    """Whether a verified credential is current at an instant: from `validFrom` on, before `validUntil`."""
    if at < datetime.fromisoformat(credential["validFrom"]):
        return Timeliness.NOT_YET
    until = credential.get("validUntil")
    expired = until is not None and at >= datetime.fromisoformat(until)
    return Timeliness.EXPIRED if expired else Timeliness.CURRENT


def _claims(credential: Mapping[str, Any]) -> dict[str, Any]:
    """The registered claims, which repeat members of the credential (Open Badges 3.0, JWT proof format)."""
    issuer = credential["issuer"]
    claims = {
        "iss": issuer if isinstance(issuer, str) else issuer["id"],
        "jti": credential["id"],
        "sub": credential["credentialSubject"]["id"],
        "nbf": _seconds(credential["validFrom"]),
    }
    until = credential.get("validUntil")
    return claims if until is None else {**claims, "exp": _seconds(until)}


def _claims_or_refusal(credential: Mapping[str, Any]) -> dict[str, Any]:
    try:
        return _claims(credential)
    except (KeyError, TypeError, ValueError):
        _refuse(Refusal.CLAIMS)


def _seconds(instant: str) -> int:
    return int(datetime.fromisoformat(instant).timestamp())


def _header(token: str) -> dict[str, Any]:
    if not _COMPACT.fullmatch(token):
        raise TokenRefused(Refusal.MALFORMED)
    return _object(token.partition(".")[0])


def _signed_payload(token: str, jwk: Mapping[str, str]) -> dict[str, Any]:
    from joserfc.errors import JoseError
    from joserfc.jwk import RSAKey
    from joserfc.jws import deserialize_compact

    try:
        deserialize_compact(token, RSAKey.import_key(dict(jwk)), algorithms=[ALGORITHM])
    except JoseError:
        _refuse(Refusal.CHANGED)
    return _object(token.split(".")[1])


def _object(segment: str) -> dict[str, Any]:
    try:
        value = json.loads(urlsafe_b64decode(segment + "=" * (-len(segment) % 4)))
    except (ValueError, RecursionError):
        _refuse(Refusal.MALFORMED)
    if not isinstance(value, dict):
        raise TokenRefused(Refusal.MALFORMED)
    return value


def _refuse(reason: Refusal) -> NoReturn:
    raise TokenRefused(reason) from None
