"""A certificate to sign in a test: Ada's, from Marram Lane; and keys that are made once for all tests."""

import json
import struct
import zlib
from base64 import urlsafe_b64decode, urlsafe_b64encode
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache
from typing import Any
from uuid import UUID

from cryptography.hazmat.primitives.asymmetric.padding import PKCS1v15
from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey, generate_private_key
from cryptography.hazmat.primitives.hashes import SHA256

from assessments.credentials.achievement import (
    Achievement,
    CertificateFacts,
    FigureResult,
    Issuer,
    LevelWords,
    SkillResult,
    StatusEntry,
    credential,
)
from assessments.credentials.keys import key_url, public_jwk, thumbprint
from assessments.credentials.status_list import REVOCATION, SUSPENSION, StatusListFacts
from assessments.credentials.tokens import sign

SITE = "https://fanlight.example"
ISSUER = "did:web:fanlight.example:schools:7"
PLACE = 94_567
LEVELS = tuple(
    LevelWords(level, name, f"{name.capitalize()}: what an educator sees at level {level}.")
    for level, name in enumerate(("absent", "weak", "developing", "sound", "exam-ready"))
)
SKILLS = (
    SkillResult("isolation", "Isolation", LEVELS, achieved=3, required=3),
    SkillResult("placement", "Placement", LEVELS, achieved=4),
)
FIGURES = (
    FigureResult("practice-hours", "Practice hours", "42.5", minimum="0", required="40"),
    FigureResult("graded-sets", "Graded sets", "18"),
)


def key(which: str = "own") -> RSAPrivateKey:
    """One key for each name."""
    return _made(which)


@cache
def _made(which: str) -> RSAPrivateKey:
    return generate_private_key(public_exponent=65_537, key_size=3072)


def kid(which: str = "own") -> str:
    return key_url(SITE, thumbprint(public_jwk(key(which))))


def published(*which: str) -> dict[str, dict[str, str]]:
    """The public halves by their addresses, as an academy publishes them."""
    return {kid(each): public_jwk(key(each)) for each in which or ("own",)}


def status_url(purpose: str) -> str:
    return f"{SITE}/status/7/{purpose}/1"


@cache
def token() -> str:
    """Ada's certificate, signed."""
    return sign(credential(facts()), key(), kid())


def parts(text: str) -> tuple[dict[str, Any], dict[str, Any], str]:
    """Header, payload and signature."""
    header, payload, signature = text.split(".")
    return json.loads(raw(header)), json.loads(raw(payload)), signature


def raw(segment: str) -> bytes:
    return urlsafe_b64decode(segment + "=" * (-len(segment) % 4))


def signed_anyway(header: dict[str, Any], payload: object, which: str = "own") -> str:
    """A token with a true signature under whatever header and payload: what a thief of the key could make."""
    head, body = segment(header), segment(payload)
    signature = key(which).sign(f"{head}.{body}".encode(), PKCS1v15(), SHA256())
    return f"{head}.{body}.{segment(signature)}"


def segment(value: object) -> str:
    data = value if isinstance(value, bytes) else json.dumps(value, separators=(",", ":")).encode()
    return urlsafe_b64encode(data).rstrip(b"=").decode()


def facts(**changes: Any) -> CertificateFacts:
    whole = CertificateFacts(
        url=f"{SITE}/v/7Q2M9KXD4TBP",
        name="Classic set, practice heads",
        issuer=Issuer(ISSUER, "Marram Lane Lash School", f"{SITE}/schools/7/"),
        subject=UUID("5b0c2e8a-6c1f-4e0b-9d53-0f3a2b7c4d11"),
        achievement=Achievement(
            url=f"{SITE}/schools/7/programmes/3",
            name="Classic set, practice heads",
            description="Single fans on practice heads, inspected fan by fan.",
            criteria="All units signed off; every gate skill declared; the gate to live models opened once.",
            version="3",
        ),
        valid_from=datetime(2026, 3, 2, 9, tzinfo=UTC),
        valid_until=datetime(2028, 3, 2, 9, tzinfo=UTC),
        awarded_at=datetime(2026, 3, 2, 9, tzinfo=UTC),
        statuses=tuple(StatusEntry(each, status_url(each), PLACE) for each in (REVOCATION, SUSPENSION)),
        holder_name="Ada Marsh",
        narrative="A training certificate, not a licence.",
        started_on=date(2025, 10, 6),
        ended_on=date(2026, 2, 27),
        skills=SKILLS,
        figures=FIGURES,
    )
    return replace(whole, **changes)


def list_facts(*indexes: int, purpose: str = REVOCATION, **changes: Any) -> StatusListFacts:
    made_at = datetime(2026, 6, 1, 12, tzinfo=UTC)
    whole = StatusListFacts(status_url(purpose), ISSUER, purpose, frozenset(indexes), made_at)
    return replace(whole, **changes)


def picture() -> bytes:
    """A PNG of one grey pixel, put together by hand: W3C PNG third edition, section 5.2 and 11.2."""
    header = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    parts = ((b"IHDR", header), (b"IDAT", zlib.compress(b"\0\x80")), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunk(*part) for part in parts)


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
