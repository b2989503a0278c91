"""Which certificates are revoked or suspended, as a list that says nothing about who asks.

W3C Bitstring Status List v1.0: 131,072 bits, index 0 left-most, gzip, multibase base64url.
"""

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Any

BITS = 131_072
REVOCATION = "revocation"
SUSPENSION = "suspension"
PURPOSES = (REVOCATION, SUSPENSION)


@dataclass(frozen=True, slots=True)
class StatusListFacts:
    """One list as it is served. `indexes`: the places whose bit is set; `ttl`: how long a copy may be used."""

    url: str
    issuer: str
    purpose: str
    indexes: frozenset[int]
    made_at: datetime
    ttl: timedelta = timedelta(hours=1)


def encode(indexes: Iterable[int]) -> str:
    """The `encodedList` in which exactly these bits are set; the same indexes give the same text."""
    raise NotImplementedError


def decode(encoded: str) -> bytes:
    """The bits of an `encodedList`, 16 KiB; ValueError when it is anything else."""
    raise NotImplementedError


def is_set(bits: bytes, index: int) -> bool:
    raise NotImplementedError


def draw_index(taken: Set[int], random: Random) -> int:
    """A place nobody has, every free one equally likely; ValueError when the list is full.

    `random` is a `SystemRandom` at the door: indexes that can be guessed would tell who was certified when.
    """
    raise NotImplementedError


def status_credential(facts: StatusListFacts) -> dict[str, Any]:
    """The list as a credential, to be signed with the same key as the certificates."""
    raise NotImplementedError


def read_status_list(
    token: str, keys: Mapping[str, Mapping[str, str]], *, url: str, issuer: str, purpose: str, at: datetime
) -> bytes:
    """The bits of a list fetched from somewhere; TokenRefused when forged, another list, or older than allowed."""
    raise NotImplementedError
