"""Signed tokens: compact JWS, RS256 and nothing else, checked against our own list of keys only."""

from collections.abc import Mapping
from datetime import datetime
from enum import StrEnum
from typing import Any

from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey

LONGEST_TOKEN = 131_072  # characters


class Refusal(StrEnum):
    TOO_LARGE = "too_large"
    NOT_A_TOKEN = "not_a_token"
    ALGORITHM = "algorithm"
    HEADER = "header"
    UNKNOWN_KEY = "unknown_key"
    CHANGED = "changed"
    OTHER_ISSUER = "other_issuer"
    CLAIMS = "claims"
    STALE = "stale"


class Timeliness(StrEnum):
    CURRENT = "current"
    NOT_YET = "not_yet"
    EXPIRED = "expired"


class TokenRefused(Exception):
    """Not a genuine token of this issuer. `reason` is one of `Refusal`; the text is a sentence for people."""

    def __init__(self, reason: Refusal) -> None:
        super().__init__(reason)
        self.reason = reason


def sign(credential: Mapping[str, Any], key: RSAPrivateKey, kid: str) -> str:
    """The compact JWS; the same credential and key give the same token."""
    raise NotImplementedError


def kid_of(token: str) -> str:
    """The key the token claims to be signed with, to look it up in our own list; proves nothing yet."""
    raise NotImplementedError


def verify(token: str, keys: Mapping[str, Mapping[str, str]], issuer: str) -> dict[str, Any]:
    """The credential inside a token of `issuer`, signed with one of `keys` (JWKs by `kid`); else TokenRefused.

    Whether it is current is another question: see `timeliness`.
    """
    raise NotImplementedError


def timeliness(credential: Mapping[str, Any], at: datetime) -> Timeliness:
    """Whether a verified credential is current at an instant (RFC 7519: from `nbf` on, before `exp`)."""
    raise NotImplementedError
