"""How much stricter or milder an educator marks than the average educator, in levels and in words."""

from dataclasses import dataclass

import numpy as np
import scipy as sp  # loads `special` at first use

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.facet_tables import FloatArray, moments
from assessments.scoring.facets import NO_DATA, OK, ONE_EDUCATOR, FacetFit, FacetMarks, fit_facets
from assessments.scoring.wording import counted

PROVISIONAL = "provisional"
FEW_MARKS = 30

SCATTER_LOW, SCATTER_HIGH, SCATTER_MARKS = 0.6, 1.5, 50

_CLOSE = 0.3  # levels; an interval that reaches farther does not show that educators mark alike

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(15)


@dataclass(frozen=True, slots=True)
class Severity:
    """`levels`: how far an educator's marks lie above (+) or below (-) the average educator's on the same
    work, in levels, with its interval; None without marks. `criterion` is empty for all criteria together."""

    educator: str
    criterion: str
    marks: int
    confidence: float
    status: str
    words: str
    levels: float | None = None
    low: float | None = None
    high: float | None = None


def severities(fit: FacetFit, *, confidence: float = 0.90, criterion: str = "") -> tuple[Severity, ...]:
    """One finding an educator, in the order of the fit.

    The severity is taken against the mean of the educators it is linked to, and turned into levels by the
    expected mark over the distribution of the sets and over the criteria.
    """
    if not 0 < confidence < 1:
        raise ScoringInputError("confidence_out_of_range", "Give a confidence between 0 and 1.")
    contrast = _against_own_group(fit)
    severity = contrast @ fit.severity
    half = float(sp.special.ndtri((1 + confidence) / 2)) * np.sqrt(
        np.diag(contrast @ fit.severity_cov @ contrast.T)
    )
    levels = _in_levels(fit, np.concatenate([severity, severity + half, severity - half])).reshape(3, -1)
    return tuple(
        _finding(fit, place, levels[:, place], confidence, criterion) for place in range(len(fit.educators))
    )


def severities_by_criterion(marks: FacetMarks, *, confidence: float = 0.90) -> tuple[Severity, ...]:
    """Findings for each criterion in turn, each from a fit of its own: severity may differ between them."""
    return tuple(
        finding
        for place, name in enumerate(marks.criteria)
        for finding in severities(
            fit_facets(marks.of_criterion(place)), confidence=confidence, criterion=name
        )
    )


def scatter_words(fit: FacetFit) -> tuple[str, ...]:
    """A sentence for each educator whose marks scatter oddly; from 50 marks on.

    Mean squared residuals below 0.6 or above 1.5 are flagged (J. M. Linacre, guideline, from memory).
    """
    return tuple(
        sentence
        for name, infit, outfit, marks in zip(
            fit.educators, fit.infit, fit.outfit, fit.marks_by_educator, strict=True
        )
        if marks >= SCATTER_MARKS and (sentence := _scatter_sentence(name, float(infit), float(outfit)))
    )


def _scatter_sentence(name: str, infit: float, outfit: float) -> str:
    if infit > SCATTER_HIGH:
        return (
            f"{name} gives like work unlike levels: the marks scatter {infit:.1f} times as much as expected."
        )
    if outfit > SCATTER_HIGH:
        return (
            f"A few marks of {name} lie far from what the other marks suggest. Look at those sets together."
        )
    if infit < SCATTER_LOW:
        return (
            f"The marks of {name} lie closer together than expected ({infit:.1f} of the usual scatter); "
            "the ends of the scale may go unused."
        )
    return ""


def _against_own_group(fit: FacetFit) -> FloatArray:
    """Matrix that takes from each severity the mean of the educators with marks in its group."""
    marking = (fit.marks_by_educator > 0).astype(float)
    same = (fit.group[:, None] == fit.group) * marking
    return np.asarray(np.eye(len(fit.group)) - same / np.maximum(same.sum(axis=1), 1)[:, None])


def _in_levels(fit: FacetFit, severity: FloatArray) -> FloatArray:
    """Expected mark with each severity less that with none."""
    place = (fit.mean + fit.spread * _NODES)[:, None] - fit.difficulty
    weight = np.repeat(_WEIGHTS / _WEIGHTS.sum(), fit.difficulty.size) / fit.difficulty.size
    shifted = place.ravel() - np.concatenate([[0.0], severity])[:, None]
    means = moments(shifted.ravel(), fit.steps).mean.reshape(shifted.shape) @ weight
    return np.asarray(means[1:] - means[0])


def _finding(fit: FacetFit, place: int, ends: FloatArray, confidence: float, criterion: str) -> Severity:
    name, marks = fit.educators[place], int(fit.marks_by_educator[place])
    if marks == 0:
        words = f"{name} has not marked {criterion or 'any of these sets'} yet."
        return Severity(name, criterion, 0, confidence, NO_DATA, words)
    alone = int((fit.group[fit.marks_by_educator > 0] == fit.group[place]).sum()) == 1
    if alone:
        words = f"No other educator has marked the sets of {name}; severity cannot be separated from skill."
        return Severity(name, criterion, marks, confidence, ONE_EDUCATOR, words)
    levels, low, high = (float(end) for end in ends)
    status = PROVISIONAL if marks < FEW_MARKS else OK
    words = _words(f"{name} marks {criterion}".rstrip(), (levels, low, high), confidence)
    if status == PROVISIONAL:
        words += f" Provisional, from {counted(marks, 'mark')}."
    return Severity(name, criterion, marks, confidence, status, words, levels, low, high)


def _words(lead: str, found: tuple[float, float, float], confidence: float) -> str:
    levels, low, high = found
    chance = f"{100 * confidence:g} % interval"
    if high < 0:
        size = f"{-levels:.1f} levels lower"
        return f"{lead} {size} than the average educator ({chance} {-high:.1f} to {-low:.1f})."
    if low > 0:
        size = f"{levels:.1f} levels higher"
        return f"{lead} {size} than the average educator ({chance} {low:.1f} to {high:.1f})."
    ends = f"({chance} {-low:.1f} levels lower to {high:.1f} higher)"
    if max(-low, high) > _CLOSE:
        return f"{lead} neither clearly lower nor clearly higher than the average educator {ends}."
    return f"{lead} about as the average educator does {ends}."
