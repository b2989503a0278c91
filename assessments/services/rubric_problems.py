"""What is wrong with a rubric version, in sentences for whoever edits it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from assessments.models import Criterion, RubricVersion
from assessments.scoring.rules import RuleError, parse_rule, rule_kinds
from courses.models import Fault

LEVELS = 5


@dataclass(frozen=True, slots=True)
class Sampling:
    """Fans inspected in each zone of each eye, and how many of them are measured.

    ``pairs_per_zone`` stand at the same place on both eyes and are measured for length.
    """

    per_zone: int
    gaps_per_zone: int
    directions_per_zone: int
    pairs_per_zone: int


@dataclass(frozen=True, slots=True)
class RubricProblem:
    """``field`` is the entry at fault: of a rule, or of Sampling."""

    field: str
    message: str


def publish_problems(version: RubricVersion) -> tuple[str, ...]:
    """What stands between a draft and publishing; four queries."""
    criteria = list(Criterion.objects.filter(version=version).prefetch_related("descriptors"))
    known = fault_codes()
    return (
        *(problem.message for problem in sampling_problems(sampling_of(version))),
        *(f"{each.name}: {message}" for each in criteria for message in _criterion_problems(each, known)),
        *_whole_problems(version, criteria),
    )


def rule_problems(kind: str, rule: Mapping[str, object], known: frozenset[str]) -> Iterator[RubricProblem]:
    """``known`` are the fault codes of the catalogue."""
    try:
        parse_rule(kind, rule)
    except RuleError as error:
        yield RubricProblem(error.field, error.message)
        return
    for field in ("faults", "floor_faults", "caps"):
        if unknown := sorted(set(_codes(rule.get(field))) - known):
            yield RubricProblem(
                field,
                f"{rule_kinds[kind]}: the catalogue has no fault {', '.join(unknown)}. "
                "Correct the code, or remove it.",
            )


def sampling_problems(sampling: Sampling) -> Iterator[RubricProblem]:
    per_zone = sampling.per_zone
    if not 1 <= per_zone <= 20:
        yield RubricProblem(
            "per_zone", f"{per_zone} fans to inspect in a zone is out of range. Give 1 to 20."
        )
    for field, count, noun in (
        ("gaps_per_zone", sampling.gaps_per_zone, "gaps"),
        ("directions_per_zone", sampling.directions_per_zone, "directions"),
        ("pairs_per_zone", sampling.pairs_per_zone, "lengths of pairs"),
    ):
        if not 0 <= count <= per_zone:
            yield RubricProblem(
                field,
                f"{count} {noun} to measure, but {per_zone} fans are inspected in a zone. "
                f"Give 0 to {per_zone}.",
            )


def sampling_of(version: RubricVersion) -> Sampling:
    return Sampling(
        version.per_zone, version.gaps_per_zone, version.directions_per_zone, version.pairs_per_zone
    )


def fault_codes() -> frozenset[str]:
    return frozenset(Fault.objects.values_list("code", flat=True))


def _whole_problems(version: RubricVersion, criteria: list[Criterion]) -> Iterator[str]:
    kinds = {criterion.kind for criterion in criteria}
    if not any(criterion.is_gate for criterion in criteria):
        yield "No criterion is a gate. Make at least one a gate."
    if not any(criterion.weight > 0 for criterion in criteria):
        yield "Every weight is 0. Give at least one criterion a weight above 0."
    if "lines" in kinds and not version.hygiene_lines.exists():
        yield "There are no hygiene lines to tick. Add at least one."
    if "window" in kinds and not version.gaps_per_zone:
        yield "The lid gap is judged but never measured. Measure at least 1 gap in a zone."
    if "deviation" in kinds and not version.directions_per_zone:
        yield "Direction is judged but never measured. Measure at least 1 direction in a zone."
    if any("mm_at_most" in criterion.rule for criterion in criteria) and not version.pairs_per_zone:
        yield "Lengths left and right are judged but never measured. Measure at least 1 pair in a zone."


def _criterion_problems(criterion: Criterion, known: frozenset[str]) -> Iterator[str]:
    yield from (problem.message for problem in rule_problems(criterion.kind, criterion.rule, known))
    if {descriptor.level for descriptor in criterion.descriptors.all()} != set(range(LEVELS)):
        yield "Describe every level from 0 to 4."


def _codes(given: object) -> list[str]:
    return [str(code) for code in given] if isinstance(given, list | tuple | Mapping) else []
