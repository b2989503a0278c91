"""What a certificate says, in the members of Open Badges 3.0 on the VC Data Model 2.0."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID


@dataclass(frozen=True, slots=True)
class Issuer:
    """`did`: the academy's did:web name; `url`: its page, or the site's."""

    did: str
    name: str
    url: str


@dataclass(frozen=True, slots=True)
class LevelWords:
    """One level of a skill with its descriptor."""

    level: int
    name: str
    description: str = ""


@dataclass(frozen=True, slots=True)
class SkillResult:
    """`levels`: every level of the skill, lowest first; `required`: the least the certificate asks for."""

    code: str
    name: str
    levels: tuple[LevelWords, ...]
    achieved: int
    required: int | None = None


@dataclass(frozen=True, slots=True)
class FigureResult:
    """A counted or timed figure, such as hours; all numbers as text, as they are shown."""

    code: str
    name: str
    value: str
    minimum: str | None = None
    maximum: str | None = None
    required: str | None = None


@dataclass(frozen=True, slots=True)
class Achievement:
    """`url`: stable address of what is certified; `criteria`: what had to be met, in sentences."""

    url: str
    name: str
    description: str
    criteria: str
    version: str = ""
    language: str = "en"


@dataclass(frozen=True, slots=True)
class StatusEntry:
    """A certificate's place in one status list. `purpose`: revocation or suspension."""

    purpose: str
    list_url: str
    index: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateFacts:
    """All that is signed. `url`: the check page of this certificate; instants carry their zone.

    `subject`: random, made for this certificate; `awarded_at` survives a reissue, `valid_from` does not.
    `skills` and `figures` may be empty: then the token reveals no results.
    """

    url: str
    name: str
    issuer: Issuer
    subject: UUID
    achievement: Achievement
    valid_from: datetime
    valid_until: datetime | None
    awarded_at: datetime
    statuses: tuple[StatusEntry, ...]
    holder_name: str | None = None
    narrative: str = ""
    started_on: date | None = None
    ended_on: date | None = None
    skills: tuple[SkillResult, ...] = ()
    figures: tuple[FigureResult, ...] = ()


def credential(facts: CertificateFacts) -> dict[str, Any]:
    """The credential as signed by `tokens.sign`, registered claims included."""
    raise NotImplementedError
