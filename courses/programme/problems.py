"""What stands between a draft and publishing it, in sentences for the owner."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from courses.programme.content import ProgrammeContent
from courses.programme.sheet import hours_words


@dataclass(frozen=True, slots=True)
class ProgrammeProblem:
    """``field`` is the entry at fault."""

    field: str
    message: str


def draft_problems(content: ProgrammeContent, *, today: date) -> tuple[ProgrammeProblem, ...]:
    """What cannot stand even in a draft."""
    return (*_double_titles(content), *_day_problems(content, today))


def publish_problems(content: ProgrammeContent, *, today: date) -> tuple[ProgrammeProblem, ...]:
    return (
        *draft_problems(content, today=today),
        *_hours_problems(content),
        *_unit_problems(content),
        *_gate_problems(content),
        *_certificate_problems(content),
    )


def _double_titles(content: ProgrammeContent) -> Iterator[ProgrammeProblem]:
    counted = Counter(unit.title.casefold() for unit in content.units)
    titles = {unit.title.casefold(): unit.title for unit in content.units}
    for key, title in titles.items():
        if counted[key] > 1:
            yield ProgrammeProblem(
                "units", f"Two units are called “{title}”. Give each a title of its own, or remove one."
            )


def _day_problems(content: ProgrammeContent, today: date) -> Iterator[ProgrammeProblem]:
    if content.hours_source_on and content.hours_source_on > today:
        yield ProgrammeProblem(
            "hours_source_on", "This day is still to come. Enter the day on which you last checked the hours."
        )


def _hours_problems(content: ProgrammeContent) -> Iterator[ProgrammeProblem]:
    for name in ("theory", "practical"):
        if getattr(content, f"{name}_hours") is None:
            yield ProgrammeProblem(
                f"{name}_hours",
                f"The {name} hours are empty. Enter how many your programme asks for; 0 if it asks for none.",
            )
    if not content.hours_source.strip():
        yield ProgrammeProblem(
            "hours_source",
            "Say where these hours come from: the rule or board you read, or your own decision.",
        )
    if content.hours_source_on is None:
        yield ProgrammeProblem(
            "hours_source_on", "Enter the day on which you last checked where they come from."
        )


def _unit_problems(content: ProgrammeContent) -> Iterator[ProgrammeProblem]:
    if not content.units:
        yield ProgrammeProblem("units", "There are no units. Add at least one.")
    elif content.gate.theory_units and not any(unit.before_live for unit in content.units):
        yield ProgrammeProblem(
            "theory_units",
            "The gate asks for the units before live models, but no unit is one. "
            "Tick it on at least one unit, or take this condition away.",
        )


def _gate_problems(content: ProgrammeContent) -> Iterator[ProgrammeProblem]:
    for name in ("theory", "practical"):
        asked: Decimal | None = getattr(content.gate, f"{name}_hours")
        whole: Decimal | None = getattr(content, f"{name}_hours")
        if asked is not None and whole is not None and asked > whole:
            yield ProgrammeProblem(
                f"gate_{name}_hours",
                f"The gate asks for {hours_words(asked)} of {name}, "
                f"the whole programme for {hours_words(whole)}. Lower the one or raise the other.",
            )


def _certificate_problems(content: ProgrammeContent) -> Iterator[ProgrammeProblem]:
    if not content.certificate.scope.strip():
        yield ProgrammeProblem(
            "scope", "Say in one sentence what the certificate covers: the styles and what they were done on."
        )
