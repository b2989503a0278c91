"""A verified credential read back for people: only what the signature covers."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class ShownLevel:
    """The level reached in one skill, 0 to 4, with its word."""

    skill: str
    level: int
    word: str


@dataclass(frozen=True, slots=True)
class Shown:
    """What a certificate says. `figures`: what was counted, by name, as text."""

    url: str
    holder: str
    school: str
    programme: str
    version: str
    scope: str
    awarded_at: datetime
    valid_from: datetime
    valid_until: datetime | None
    started_on: date | None
    ended_on: date | None
    figures: tuple[tuple[str, str], ...]
    levels: tuple[ShownLevel, ...]


def shown_of(credential: Mapping[str, Any]) -> Shown:
    """Reads what `achievement.credential` writes, and what it wrote for older certificates."""
    subject = credential["credentialSubject"]
    achievement = subject["achievement"]
    until = credential.get("validUntil")
    return Shown(
        url=credential["id"],
        holder=_holder(subject),
        school=credential["issuer"]["name"],
        programme=achievement["name"],
        version=achievement.get("version", ""),
        scope=achievement.get("description", ""),
        awarded_at=datetime.fromisoformat(credential["awardedDate"]),
        valid_from=datetime.fromisoformat(credential["validFrom"]),
        valid_until=until and datetime.fromisoformat(until),
        started_on=_day(subject.get("activityStartDate")),
        ended_on=_day(subject.get("activityEndDate")),
        figures=tuple(_figures(subject)),
        levels=tuple(_levels(subject)),
    )


def _holder(subject: Mapping[str, Any]) -> str:
    names = [row["identityHash"] for row in subject.get("identifier", ()) if row["identityType"] == "name"]
    return names[0] if names else ""


def _figures(subject: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for description, result in _described(subject):
        if "value" in result:
            yield description["name"], result["value"]


def _levels(subject: Mapping[str, Any]) -> Iterator[ShownLevel]:
    for description, result in _described(subject):
        if "achievedLevel" in result:
            levels = {level["id"]: level for level in description["rubricCriterionLevel"]}
            reached = levels[result["achievedLevel"]]
            yield ShownLevel(description["name"], int(reached["level"]), reached["name"])


def _described(subject: Mapping[str, Any]) -> Iterator[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """Every result with its description."""
    known = {row["id"]: row for row in subject["achievement"].get("resultDescription", ())}
    for result in subject.get("result", ()):
        yield known[result["resultDescription"]], result


def _day(instant: str | None) -> date | None:
    return None if instant is None else datetime.fromisoformat(instant).date()
