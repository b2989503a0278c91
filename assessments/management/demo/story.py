"""The people, briefs and words of the demo, read from fixtures/demo."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings

from courses.services.brief_content import BriefContent, lash_map_of

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "demo"


@dataclass(frozen=True, slots=True)
class Chapter:
    """A run of sets from ``from_day`` to ``to_day`` (days ago) in which levels grow or fall."""

    from_day: int
    to_day: int
    sets: int
    briefs: tuple[str, ...]
    level: tuple[float, float]
    skills: Mapping[str, tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Pupil:
    """``now``: the state in which today's set stands, empty for nobody at the bench."""

    name: str
    email: str
    cohort: str
    chapters: tuple[Chapter, ...]
    now: str
    now_brief: str
    abandoned_days_ago: int


@dataclass(frozen=True, slots=True)
class Educator:
    """``strictness`` in levels: how far below an average grader her judged levels lie."""

    name: str
    email: str
    strictness: float


def school() -> dict[str, Any]:
    return dict(_read("school"))


def words() -> dict[str, Any]:
    return dict(_read("words"))


def educators() -> tuple[Educator, ...]:
    return tuple(Educator(**row) for row in school()["educators"])


def pupils() -> tuple[Pupil, ...]:
    return tuple(_pupil(row) for row in _read("students"))


def briefs() -> tuple[BriefContent, ...]:
    return tuple(_brief(row) for row in _read("briefs"))


def _read(name: str) -> Any:
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))


def _pupil(row: dict[str, Any]) -> Pupil:
    return Pupil(
        name=row["name"],
        email=row["email"],
        cohort=row["cohort"],
        chapters=tuple(_chapter(each) for each in row["chapters"]),
        now=row.get("now", ""),
        now_brief=row.get("now_brief", ""),
        abandoned_days_ago=row.get("abandoned_days_ago", 0),
    )


def _chapter(row: dict[str, Any]) -> Chapter:
    first, last = row["level"]
    return Chapter(
        from_day=row["from"],
        to_day=row["to"],
        sets=row["sets"],
        briefs=tuple(row["briefs"]),
        level=(first, last),
        skills={code: (start, end) for code, (start, end) in row["skills"].items()},
    )


def _brief(row: dict[str, Any]) -> BriefContent:
    plain = {name: row[name] for name in row if name not in {"map", "targets"}}
    targets = tuple((nth, minutes) for nth, minutes in row["targets"])
    return BriefContent(**plain, lash_map=lash_map_of(row["map"]), targets=targets)
