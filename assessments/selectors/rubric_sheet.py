from dataclasses import dataclass

from assessments.models import Criterion, RubricVersion
from assessments.scoring.bands import band_words
from assessments.scoring.rules import RuleError, parse_rule, rule_kinds


@dataclass(frozen=True, slots=True)
class LevelRow:
    level: int
    band: str
    text: str


@dataclass(frozen=True, slots=True)
class CriterionSheet:
    """One criterion as a page shows it, level 4 first; ``problem`` when its rule cannot be read."""

    criterion: Criterion
    kind: str
    levels: tuple[LevelRow, ...]
    problem: str


def rubric_sheet(version: RubricVersion) -> tuple[CriterionSheet, ...]:
    """No query when the version came from ``selectors.rubrics.version``."""
    return tuple(_sheet(criterion) for criterion in version.criteria.all())


def _sheet(criterion: Criterion) -> CriterionSheet:
    bands, problem = _bands(criterion)
    texts = {each.level: each.text for each in criterion.descriptors.all()}
    return CriterionSheet(
        criterion=criterion,
        kind=rule_kinds.get(criterion.kind, criterion.kind),
        levels=tuple(
            LevelRow(level, band, texts.get(level, "")) for level, band in reversed(list(enumerate(bands)))
        ),
        problem=problem,
    )


def _bands(criterion: Criterion) -> tuple[tuple[str, ...], str]:
    try:
        return band_words(parse_rule(criterion.kind, criterion.rule)), ""
    except RuleError as error:
        return ("",) * 5, error.message
