"""What a certificate says, in the members of Open Badges 3.0 on the VC Data Model 2.0."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Any
from uuid import UUID

CREDENTIALS_V2 = "https://www.w3.org/ns/credentials/v2"
OPEN_BADGES_V3 = "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json"


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

    def __post_init__(self) -> None:
        known = {words.level for words in self.levels}
        if not {self.achieved, self.achieved if self.required is None else self.required} <= known:
            raise ValueError(f"The levels of {self.code} do not include the achieved and the required one.")


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
    """The credential that `tokens.sign` signs; members without a value are left out."""
    return _present(
        {
            "@context": [CREDENTIALS_V2, OPEN_BADGES_V3],
            "id": facts.url,
            "type": ["VerifiableCredential", "OpenBadgeCredential"],
            "name": facts.name,
            "issuer": _issuer(facts.issuer),
            "validFrom": instant(facts.valid_from),
            "validUntil": facts.valid_until and instant(facts.valid_until),
            "awardedDate": instant(facts.awarded_at),
            "credentialSubject": _subject(facts),
            "credentialStatus": _statuses(facts.statuses),
        }
    )


def instant(at: datetime) -> str:
    """UTC in whole seconds: a registered claim must equal the member that it repeats."""
    if at.tzinfo is None:
        raise ValueError("An instant in a certificate needs its time zone.")
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _issuer(issuer: Issuer) -> dict[str, Any]:
    return {"id": issuer.did, "type": ["Profile"], "name": issuer.name, "url": issuer.url}


def _subject(facts: CertificateFacts) -> dict[str, Any]:
    holder = [_holder(facts.holder_name)] if facts.holder_name else None
    return _present(
        {
            "id": facts.subject.urn,
            "type": ["AchievementSubject"],
            "identifier": holder,
            "activityStartDate": facts.started_on and _midnight(facts.started_on),
            "activityEndDate": facts.ended_on and _midnight(facts.ended_on),
            "narrative": facts.narrative,
            "achievement": _achievement(facts),
            "result": list(_results(facts)),
        }
    )


def _holder(name: str) -> dict[str, Any]:
    return {"type": "IdentityObject", "hashed": False, "identityHash": name, "identityType": "name"}


def _achievement(facts: CertificateFacts) -> dict[str, Any]:
    achievement = facts.achievement
    return _present(
        {
            "id": achievement.url,
            "type": ["Achievement"],
            "achievementType": "CertificateOfCompletion",
            "name": achievement.name,
            "description": achievement.description,
            "criteria": {"narrative": achievement.criteria},
            "version": achievement.version,
            "inLanguage": achievement.language,
            "resultDescription": list(_descriptions(facts)),
        }
    )


def _descriptions(facts: CertificateFacts) -> Iterator[dict[str, Any]]:
    for skill in facts.skills:
        yield _skill_description(skill, _place(facts, skill.code))
    for figure in facts.figures:
        yield _present(
            {
                "id": _place(facts, figure.code),
                "type": ["ResultDescription"],
                "name": figure.name,
                "resultType": "RawScore",
                "valueMin": figure.minimum,
                "valueMax": figure.maximum,
                "requiredValue": figure.required,
            }
        )


def _skill_description(skill: SkillResult, place: str) -> dict[str, Any]:
    return _present(
        {
            "id": place,
            "type": ["ResultDescription"],
            "name": skill.name,
            "resultType": "RubricCriterionLevel",
            "requiredLevel": None if skill.required is None else _level(place, skill.required),
            "rubricCriterionLevel": [_level_words(place, words) for words in skill.levels],
        }
    )


def _level_words(place: str, words: LevelWords) -> dict[str, Any]:
    return _present(
        {
            "id": _level(place, words.level),
            "type": ["RubricCriterionLevel"],
            "name": words.name,
            "description": words.description,
            "level": str(words.level),
            "points": str(words.level),
        }
    )


def _results(facts: CertificateFacts) -> Iterator[dict[str, Any]]:
    for skill in facts.skills:
        place = _place(facts, skill.code)
        achieved = _level(place, skill.achieved)
        yield {"type": ["Result"], "resultDescription": place, "achievedLevel": achieved}
    for figure in facts.figures:
        place = _place(facts, figure.code)
        yield {"type": ["Result"], "resultDescription": place, "value": figure.value}


def _statuses(entries: tuple[StatusEntry, ...]) -> Any:
    told = [_status(entry) for entry in entries]
    return told[0] if len(told) == 1 else told


def _status(entry: StatusEntry) -> dict[str, Any]:
    return {
        "id": f"{entry.list_url}#{entry.index}",
        "type": "BitstringStatusListEntry",
        "statusPurpose": entry.purpose,
        "statusListIndex": str(entry.index),
        "statusListCredential": entry.list_url,
    }


def _place(facts: CertificateFacts, code: str) -> str:
    return f"{facts.achievement.url}#{code}"


def _level(place: str, level: int) -> str:
    return f"{place}-{level}"


def _midnight(day: date) -> str:
    return instant(datetime.combine(day, time(), UTC))


def _present(members: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in members.items() if value not in (None, "", [])}
