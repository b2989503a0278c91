"""Which certificates are revoked or suspended, as a list that says nothing about who asks.

W3C Bitstring Status List v1.0: 131,072 bits, index 0 left-most, gzip, multibase base64url.
"""

import gzip
import re
import zlib
from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Any

from assessments.credentials.achievement import CREDENTIALS_V2, instant
from assessments.credentials.tokens import Refusal, Timeliness, TokenRefused, timeliness, verify

BITS = 131_072
REVOCATION = "revocation"
SUSPENSION = "suspension"
STATUS_LIST = "BitstringStatusListCredential"
PURPOSES = (REVOCATION, SUSPENSION)
CLOCKS_APART = timedelta(minutes=5)  # by which a reader's clock may be behind ours
_BYTES = BITS // 8
_LONGEST = 40_000  # characters; even incompressible bits need fewer
_BASE64URL = re.compile(r"[A-Za-z0-9_-]+")
_GZIP = 16 + zlib.MAX_WBITS


@dataclass(frozen=True, slots=True)
class StatusListFacts:
    """One list as it is served. `indexes`: the places whose bit is set.

    `ttl`: how long a copy may be kept; `lifetime`: after this an old copy is refused, so that it cannot be
    shown in place of a newer one.
    """

    url: str
    issuer: str
    purpose: str
    indexes: frozenset[int]
    made_at: datetime
    ttl: timedelta = timedelta(minutes=10)
    lifetime: timedelta = timedelta(hours=1)


def encode(indexes: Iterable[int]) -> str:
    """The `encodedList` in which exactly these bits are set; the same indexes give the same text."""
    bits = bytearray(_BYTES)
    for index in indexes:
        _check(index)
        bits[index >> 3] |= 128 >> (index & 7)
    packed = gzip.compress(bytes(bits), compresslevel=6, mtime=0)
    return "u" + urlsafe_b64encode(packed).rstrip(b"=").decode("ascii")


def decode(encoded: str) -> bytes:
    """The bits of an `encodedList`, 16 KiB, of which no more is unpacked; ValueError for anything else."""
    text = encoded.removeprefix("u")
    if len(encoded) > _LONGEST or text == encoded or not _BASE64URL.fullmatch(text):
        raise ValueError("This is not a status list: it must be base64url text after the letter u.")
    unpack = zlib.decompressobj(_GZIP)
    try:
        bits = unpack.decompress(urlsafe_b64decode(text + "=" * (-len(text) % 4)), _BYTES + 1)
    except (ValueError, zlib.error) as error:
        raise ValueError("This is not a status list: it cannot be unpacked.") from error
    if len(bits) != _BYTES or not unpack.eof or unpack.unused_data:
        raise ValueError(f"A status list has {BITS:,} bits and nothing after them; this one does not.")
    return bits


def is_set(bits: bytes, index: int) -> bool:
    """Whether the bit at `index` is 1, counted from the left."""
    _check(index)
    return bool(bits[index >> 3] & 128 >> (index & 7))


def draw_index(taken: Set[int], random: Random) -> int:
    """A place nobody has, every free one equally likely; ValueError when the list is full.

    `random` is a `SystemRandom` at the door: indexes in order would tell who was certified when.
    """
    if len(taken) >= BITS:
        raise ValueError("This status list is full. Open the next one.")
    while (index := random.randrange(BITS)) in taken:
        pass
    return index


def status_credential(facts: StatusListFacts) -> dict[str, Any]:
    """The list as a credential, to be signed with the same key as the certificates."""
    return {
        "@context": [CREDENTIALS_V2],
        "id": facts.url,
        "type": ["VerifiableCredential", STATUS_LIST],
        "issuer": facts.issuer,
        "validFrom": instant(facts.made_at - CLOCKS_APART),
        "validUntil": instant(facts.made_at + facts.lifetime),
        "credentialSubject": {
            "id": f"{facts.url}#list",
            "type": "BitstringStatusList",
            "statusPurpose": facts.purpose,
            "encodedList": encode(facts.indexes),
            "ttl": facts.ttl // timedelta(milliseconds=1),
        },
    }


def read_status_list(
    token: str,
    keys: Mapping[str, Mapping[str, str]],
    *,
    entry: Mapping[str, Any],
    issuer: str,
    at: datetime,
) -> bool:
    """Whether a certificate's bit is set in a list that was fetched for it; `entry`: its `credentialStatus`.

    TokenRefused when the list is forged, of another issuer, another list than the entry names, or too old.
    """
    credential = verify(token, keys, issuer, kind=STATUS_LIST)
    subject = credential["credentialSubject"]
    if (
        credential["id"] != entry["statusListCredential"]
        or subject["statusPurpose"] != entry["statusPurpose"]
    ):
        raise TokenRefused(Refusal.OTHER_LIST)
    if timeliness(credential, at) is not Timeliness.CURRENT:
        raise TokenRefused(Refusal.STALE)
    return is_set(decode(subject["encodedList"]), int(entry["statusListIndex"]))


def _check(index: int) -> None:
    if not 0 <= index < BITS:
        raise ValueError(f"A status list has the places 0 to {BITS - 1:,}; {index} is not one of them.")
