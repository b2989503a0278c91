"""All that is said about agreement, from the marks of sets marked twice: figures, intervals, sentences."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from assessments.scoring.agreement import FEW_DOUBLE_MARKED, FloatArray, cohen_kappa
from assessments.scoring.alpha import krippendorff_alpha
from assessments.scoring.drift import severity_drift
from assessments.scoring.facets import FacetFit, FacetMarks, fit_facets
from assessments.scoring.halo import SetMarks, halo_check
from assessments.scoring.intraclass import icc
from assessments.scoring.severity import scatter_words, severities
from assessments.scoring.wording import counted

NOTHING_TO_COMPARE = "Second marks show whether educators mark alike. The owner sets how many sets get one."
FORMAT = 1  # of what ``found_in`` gives and pages read


@dataclass(frozen=True, slots=True)
class DoubleMarked:
    """One set with its first and its blind second levels by criterion code; ``day`` since any epoch."""

    student: str
    day: float
    first_by: str
    second_by: str
    first: Mapping[str, int]
    second: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class FirstMarks:
    """The first marks of any graded set, marked twice or not."""

    student: str
    educator: str
    levels: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Figure:
    """``value`` with its interval ``low``..``high``; each None where it has no meaning."""

    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class CriterionAgreement:
    """``same``, ``within_one``: shares 0..1. Kappa is weighted by the square of the distance."""

    code: str
    name: str
    sets: int
    same: float | None
    within_one: float | None
    kappa: Figure
    icc: Figure
    alpha: Figure
    indicative: bool
    words: str


@dataclass(frozen=True, slots=True)
class EducatorFinding:
    """``severity`` in levels against the average educator, + when marks lie higher."""

    name: str
    marks: int
    severity: Figure
    words: str
    drift: str
    halo: str
    scatter: str


@dataclass(frozen=True, slots=True)
class Findings:
    """``design``: whether the second marks link the educators, as a sentence."""

    sets: int
    criteria: tuple[CriterionAgreement, ...]
    educators: tuple[EducatorFinding, ...]
    words: str
    design: str
    is_linked: bool


def agreement_findings(
    double: Sequence[DoubleMarked],
    firsts: Sequence[FirstMarks],
    names: Mapping[str, str],
    *,
    rng: np.random.Generator,
    draws: int = 1000,
) -> Findings:
    """`names`: criterion code to its name, in the order of the page; `firsts`: for the halo check.

    A criterion that only one of the two marked, as hygiene may be, is left out of that set.
    """
    educators = sorted({name for row in double for name in (row.first_by, row.second_by)})
    criteria = tuple(
        found for code in names if (found := _criterion(code, names[code], double, rng, draws)) is not None
    )
    if not criteria:
        return Findings(len(double), (), (), _summary(len(double), ()), NOTHING_TO_COMPARE, False)
    fit = fit_facets(_facet_marks(double, educators, list(names)))
    return Findings(
        sets=len(double),
        criteria=criteria,
        educators=_educators(fit, double, firsts, list(names), rng, draws),
        words=_summary(len(double), criteria),
        design=fit.words,
        is_linked=fit.status == "ok",
    )


def found_in(findings: Findings) -> dict[str, Any]:
    """As plain data that can be kept."""
    return {"format": FORMAT, **asdict(findings)}


def read_findings(data: Mapping[str, Any]) -> Findings | None:
    """Back from ``found_in``; None when it was written by another version and must be computed again."""
    if data.get("format") != FORMAT:
        return None
    return Findings(
        sets=data["sets"],
        criteria=tuple(
            CriterionAgreement(**{**row, **{name: Figure(**row[name]) for name in ("kappa", "icc", "alpha")}})
            for row in data["criteria"]
        ),
        educators=tuple(
            EducatorFinding(**{**row, "severity": Figure(**row["severity"])}) for row in data["educators"]
        ),
        words=data["words"],
        design=data["design"],
        is_linked=data["is_linked"],
    )


def _criterion(
    code: str, name: str, double: Sequence[DoubleMarked], rng: np.random.Generator, draws: int
) -> CriterionAgreement | None:
    rows = [row for row in double if code in row.first and code in row.second]
    if not rows:
        return None
    first, second = [row.first[code] for row in rows], [row.second[code] for row in rows]
    kappa = cohen_kappa(first, second)
    correlation = icc(np.column_stack([first, second]).astype(float))
    single = correlation.forms["2,1"] if correlation.forms else None
    alpha = krippendorff_alpha(_by_educator(code, rows), rng=rng, draws=draws)
    return CriterionAgreement(
        code=code,
        name=name,
        sets=len(rows),
        same=kappa.same,
        within_one=kappa.within_one,
        kappa=Figure(kappa.kappa, kappa.low, kappa.high),
        icc=Figure(single.value, single.low, single.high) if single else Figure(None, None, None),
        alpha=Figure(alpha.alpha, alpha.low, alpha.high),
        indicative=len(rows) < FEW_DOUBLE_MARKED,
        words=kappa.words,
    )


def _by_educator(code: str, rows: Sequence[DoubleMarked]) -> FloatArray:
    """[educator, set] levels, nan where an educator has no mark."""
    educators = sorted({name for row in rows for name in (row.first_by, row.second_by)})
    place = {name: number for number, name in enumerate(educators)}
    table = np.full((len(educators), len(rows)), np.nan)
    for number, row in enumerate(rows):
        table[place[row.first_by], number] = row.first[code]
        table[place[row.second_by], number] = row.second[code]
    return table


def _facet_marks(
    double: Sequence[DoubleMarked], educators: Sequence[str], codes: Sequence[str]
) -> FacetMarks:
    at, of = {name: n for n, name in enumerate(educators)}, {code: n for n, code in enumerate(codes)}
    marks = [
        (work, at[name], of[code], level)
        for work, row in enumerate(double)
        for name, levels in ((row.first_by, row.first), (row.second_by, row.second))
        for code, level in levels.items()
        if code in of and code in row.first and code in row.second
    ]
    work, educator, criterion, level = np.asarray(marks, dtype=np.int64).reshape(-1, 4).T
    return FacetMarks(work, educator, criterion, level, tuple(educators), tuple(codes))


def _educators(
    fit: FacetFit,
    double: Sequence[DoubleMarked],
    firsts: Sequence[FirstMarks],
    codes: Sequence[str],
    rng: np.random.Generator,
    draws: int,
) -> tuple[EducatorFinding, ...]:
    scatter = scatter_words(fit)
    others = _less_own_mean(firsts, codes)
    return tuple(
        EducatorFinding(
            name=found.educator,
            marks=found.marks,
            severity=Figure(found.levels, found.low, found.high),
            words=found.words,
            drift=_drift(found.educator, double),
            halo=halo_check(others, found.educator, rng=rng, draws=draws).words,
            scatter=" ".join(words for words in scatter if found.educator in words),
        )
        for found in severities(fit)
    )


def _drift(educator: str, double: Sequence[DoubleMarked]) -> str:
    """The gap of each set: the mean over its criteria of this educator's level less the other's."""
    rows = [(row, _gap(row, educator)) for row in double if educator in (row.first_by, row.second_by)]
    known = [(row, gap) for row, gap in rows if gap is not None]
    return severity_drift(
        educator,
        [gap for _, gap in known],
        [row.day for row, _ in known],
        [row.student for row, _ in known],
    ).words


def _gap(row: DoubleMarked, educator: str) -> float | None:
    both = row.first.keys() & row.second.keys()
    if not both:
        return None
    apart = sum(row.first[code] - row.second[code] for code in both) / len(both)
    return apart if educator == row.first_by else -apart


def _less_own_mean(firsts: Sequence[FirstMarks], codes: Sequence[str]) -> SetMarks:
    """Levels less the student's own mean on the criterion: else strong and weak students look like a halo."""
    table = np.full((len(firsts), len(codes)), np.nan)
    for number, row in enumerate(firsts):
        for place, code in enumerate(codes):
            table[number, place] = row.levels.get(code, np.nan)
    student = np.asarray([row.student for row in firsts], dtype=np.str_)
    for name in np.unique(student):
        mine = student == name
        known = ~np.isnan(table[mine])
        mean = np.where(known, table[mine], 0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
        table[mine] -= mean
    return SetMarks(table, np.asarray([row.educator for row in firsts], dtype=np.str_), student)


def _summary(sets: int, criteria: Sequence[CriterionAgreement]) -> str:
    if not criteria:
        return "No set has been marked twice yet, so nothing can be said about agreement."
    pairs = sum(row.sets for row in criteria)
    same = sum(row.sets * (row.same or 0) for row in criteria) / pairs
    within = sum(row.sets * (row.within_one or 0) for row in criteria) / pairs
    words = (
        f"On {counted(sets, 'set')} marked twice, two educators gave the same level in {100 * same:.0f} % of "
        f"{counted(pairs, 'comparison')}, and were at most one level apart in {100 * within:.0f} %."
    )
    known = [row for row in criteria if row.kappa.value is not None and not row.indicative]
    if known:
        worst = min(known, key=lambda row: row.kappa.value or 0)
        words += f" They differ most on {worst.name}: look at that one together first."
    if sets < FEW_DOUBLE_MARKED:
        words += f" Fewer than {FEW_DOUBLE_MARKED} sets: read every figure as only indicative."
    return words
