"""A many-facet model of marks given by several educators to the same sets, as in a moderation session."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.facet_newton import START_STEPS, Estimates, Shape, places, settle
from assessments.scoring.facet_tables import FloatArray, IntArray, Tables, gathered, moments

LEVELS = START_STEPS.size + 1

NO_DATA, ONE_EDUCATOR, UNLINKED, OK = "no_data", "one_educator", "unlinked", "ok"


@dataclass(frozen=True, slots=True)
class FacetMarks:
    """One row a mark. `work`: set number 0.., the same for all who marked it; `educator` and `criterion`:
    places in `educators` and `criteria`; `level` 0..4."""

    work: IntArray
    educator: IntArray
    criterion: IntArray
    level: IntArray
    educators: Sequence[str]
    criteria: Sequence[str]

    def __post_init__(self) -> None:
        if len({self.work.shape, self.educator.shape, self.criterion.shape, self.level.shape}) != 1:
            raise ScoringInputError(
                "marks_of_different_length", "Every mark needs its set, educator, criterion and level."
            )
        if not self.level.size:
            return
        _check(self.level, LEVELS, "level_out_of_range", "A level is off the scale. Give 0 to 4.")
        _check(self.educator, len(self.educators), "unknown_educator", "A mark has no known educator.")
        _check(self.criterion, len(self.criteria), "unknown_criterion", "A mark has no known criterion.")
        if self.work.min() < 0:
            raise ScoringInputError("unknown_set", "A mark belongs to no set. Name its set.")

    def of_criterion(self, place: int) -> "FacetMarks":
        """Only the marks on one criterion."""
        keep = self.criterion == place
        work, educator, level = self.work[keep], self.educator[keep], self.level[keep]
        return FacetMarks(
            work, educator, np.zeros_like(level), level, self.educators, (self.criteria[place],)
        )


@dataclass(frozen=True, slots=True)
class FacetFit:
    """Logits, arrays by place; `difficulty`, `steps` and the `severity` of those who marked each sum to 0.
    More is stricter, harder.

    `work_mean`, `work_sd`: where each set stands for an average educator, from the prior N(`mean`,
    `spread`^2). `infit`, `outfit`: mean squared residual of an educator's marks against the expected, 1 when
    they scatter as the model says. `group`: educators of different groups share no set, even in a chain.
    """

    marks: int
    educators: tuple[str, ...]
    criteria: tuple[str, ...]
    severity: FloatArray
    severity_cov: FloatArray
    difficulty: FloatArray
    steps: FloatArray
    mean: float
    spread: float
    work_mean: FloatArray
    work_sd: FloatArray
    marks_by_educator: IntArray
    infit: FloatArray
    outfit: FloatArray
    group: IntArray
    rounds: int
    status: str
    words: str


def fit_facets(marks: FacetMarks) -> FacetFit:
    """Fit the rating-scale model with facets: the logit of level h against h - 1 is work - severity -
    difficulty - step_h.

    J. M. Linacre, Many-Facet Rasch Measurement (1989); D. Andrich, Psychometrika 43 (1978) 561-573. Sets are
    drawn from a normal distribution, so a set marked 4 throughout keeps a finite place, and all other
    parameters have a weak prior (sd 2 logits), so an educator who gives a single level does too.

    The sum of its levels is sufficient for a set, so sets marked in the same cells with the same sum are one
    case: after a single pass over the marks the cost is that of the distinct cases.

    Raises ScoringInputError for a mark given twice. No marks, one educator and unlinked educators are a
    status with a sentence.
    """
    shape = Shape(len(marks.educators), len(marks.criteria))
    tables = gathered(
        marks.work,
        marks.educator * shape.criteria + marks.criterion,
        marks.level,
        criteria=shape.criteria,
        cells=shape.educators * shape.criteria,
        levels=LEVELS,
    )
    estimates = settle(tables, shape) if marks.level.size else _nothing(shape)
    return _fit_of(marks, tables, shape, estimates)


def _nothing(shape: Shape) -> Estimates:
    none, beta = np.zeros(0), np.concatenate([np.zeros(shape.educators + shape.criteria), START_STEPS])
    return Estimates(beta, np.eye(shape.size), none, none, none, 0.0, 1.0, 0)


def _fit_of(marks: FacetMarks, tables: Tables, shape: Shape, found: Estimates) -> FacetFit:
    severity, difficulty, steps = shape.split(found.beta)
    infit, outfit, given = _scatter(tables, shape, found)
    centred = np.eye(shape.educators) - (given > 0) / max(int((given > 0).sum()), 1)
    group = _linked(tables, shape.educators)
    status, words = _status(given, group)
    return FacetFit(
        marks=int(marks.level.size),
        educators=tuple(marks.educators),
        criteria=tuple(marks.criteria),
        severity=centred @ severity,
        severity_cov=centred @ found.covariance[: shape.educators, : shape.educators] @ centred.T,
        difficulty=difficulty - difficulty.mean(),
        steps=steps - steps.mean(),
        mean=found.mean,
        spread=found.spread,
        work_mean=found.work_mean[tables.work_group],
        work_sd=found.work_sd[tables.work_group],
        marks_by_educator=given,
        infit=infit,
        outfit=outfit,
        group=group,
        rounds=found.rounds,
        status=status,
        words=words,
    )


def _scatter(tables: Tables, shape: Shape, found: Estimates) -> tuple[FloatArray, FloatArray, IntArray]:
    """(infit, outfit, marks) by educator; 1 where there are no marks."""
    model = moments(places(tables, shape, found), shape.split(found.beta)[2])
    apart = np.arange(LEVELS)[:, None] - model.mean
    squares, marks = (tables.counts * apart**2).sum(axis=0), tables.counts.sum(axis=0)
    variance = np.maximum(model.variance, 1e-9)
    by = [
        np.bincount(tables.educator, column, shape.educators)
        for column in (squares, marks * variance, squares / variance, marks)
    ]
    used = by[3] > 0
    infit = np.where(used, by[0] / np.where(used, by[1], 1.0), 1.0)
    outfit = np.where(used, by[2] / np.where(used, by[3], 1.0), 1.0)
    return infit, outfit, by[3].astype(np.int64)


def _linked(tables: Tables, educators: int) -> IntArray:
    """A number for each educator, equal when shared sets link two of them directly or in a chain."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import connected_components

    seen = csr_array(
        (np.ones(tables.group.size), (tables.educator, tables.group)), shape=(educators, tables.times.size)
    )
    return np.asarray(connected_components(seen @ seen.T, directed=False)[1], dtype=np.int64)


def _status(given: IntArray, group: IntArray) -> tuple[str, str]:
    marking = int((given > 0).sum())
    apart = int(np.unique(group[given > 0]).size)
    if marking == 0:
        return NO_DATA, "No marks yet. Have several educators mark the same sets."
    if marking == 1:
        return (
            ONE_EDUCATOR,
            "Only one educator: severity cannot be separated from skill. Ask for second marks.",
        )
    if apart > 1:
        return UNLINKED, (
            f"Educators fall into {apart} groups with no shared sets; comparison between groups assumes the "
            "groups' sets are alike. Have one educator of each group mark some of the other's sets."
        )
    return OK, f"{marking} educators are linked by sets they have both marked; their marks can be compared."


def _check(places_: IntArray, end: int, code: str, message: str) -> None:
    if places_.min() < 0 or places_.max() >= end:
        raise ScoringInputError(code, message)
