"""What a set brief says, and every sentence about what is wrong with it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from academy.errors import DomainError
from courses.mapping.lash_map import LashMap, MapError
from courses.mapping.map_json import map_problems, read_map, write_map
from courses.models import Difficulty

SHORTEST_MIN, LONGEST_MIN = 5, 600
NOTE_LENGTH = 240


@dataclass(frozen=True, slots=True)
class BriefContent:
    """One wording of a brief; ``targets`` as (from set, minutes), ``silenced`` notes by key of a finding."""

    name: str
    style: str
    lash_map: LashMap
    coverage_percent: int
    lashes_per_eye: int
    targets: tuple[tuple[int, int], ...]
    difficulty: str = ""
    silenced: Mapping[str, str] = field(default_factory=dict)
    notes: str = ""


@dataclass(frozen=True, slots=True)
class BriefProblem:
    """``field`` is a field of BriefContent; ``pointer`` (RFC 6901) leads into it where it is a map."""

    field: str
    message: str
    pointer: str = ""


class BriefMapWrong(DomainError):
    """Nobody could work from the map; ``problems`` are all of its cells, or else the first."""

    def __init__(self, errors: tuple[MapError, ...]) -> None:
        first = errors[0]
        super().__init__(first.code, first.message, field="lash_map", pointer=first.pointer)
        self.problems = tuple(_map_problem(error) for error in errors)


def lash_map_of(data: object) -> LashMap:
    """The map a person drew, from its JSON. Raises BriefMapWrong."""
    if errors := map_problems(data):
        raise BriefMapWrong(errors)
    return read_map(data)


def brief_problems(content: BriefContent) -> tuple[BriefProblem, ...]:
    """Everything wrong at once, so that a person corrects it in one go."""
    checks = (_words, _counts, _silenced, _targets)
    found = [BriefProblem(field, message) for check in checks for field, message in check(content)]
    return (*found, *(_map_problem(error) for error in map_problems(write_map(content.lash_map))))


def _map_problem(error: MapError) -> BriefProblem:
    return BriefProblem("lash_map", error.message, error.pointer)


Found = Iterator[tuple[str, str]]


def _words(content: BriefContent) -> Found:
    if not content.name.strip():
        yield "name", "Give the brief a name."
    if not content.style.strip():
        yield "style", "Name the style, such as hybrid or volume."
    if content.difficulty and content.difficulty not in Difficulty.values:
        known = ", ".join(label.lower() for label in Difficulty.labels)
        yield "difficulty", f"Choose whom the brief is for ({known}), or leave it open."


def _counts(content: BriefContent) -> Found:
    limits = (
        ("coverage_percent", content.coverage_percent, 10, 100, "% of the usable lashes covered"),
        ("lashes_per_eye", content.lashes_per_eye, 20, 200, "usable lashes an eye"),
    )
    for field_name, value, low, high, noun in limits:
        if not low <= value <= high:
            yield field_name, f"{value} {noun} is out of range. Give {low} to {high}."


def _silenced(content: BriefContent) -> Found:
    for note in content.silenced.values():
        if not note.strip():
            yield "silenced", "Say in a note why the check does not matter here, or let it stand."
        elif len(note) > NOTE_LENGTH:
            yield "silenced", f"A note has up to {NOTE_LENGTH} characters, not {len(note)}. Shorten it."


def _targets(content: BriefContent) -> Found:
    if not content.targets or content.targets[0][0] != 1:
        yield "targets", "Give a target time from the 1st set on."
    for nth, minutes in content.targets:
        if not SHORTEST_MIN <= minutes <= LONGEST_MIN:
            yield (
                "targets",
                f"{minutes} min from set {nth} is out of range. Give {SHORTEST_MIN} to {LONGEST_MIN}.",
            )
    for (before, longer), (after, shorter) in pairwise(content.targets):
        if after <= before:
            yield "targets", f"Set {after} comes after set {before} in the list. Put the stages in order."
        elif shorter >= longer:
            yield (
                "targets",
                f"From set {after} the target is {shorter} min, not below the {longer} min before. "
                "Targets fall from stage to stage: shorten it, or remove the stage.",
            )
