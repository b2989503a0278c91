"""Intraclass correlation: which share of the differences between marks comes from the work itself."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy as sp  # loads `special` at first use

from assessments.scoring.agreement import (
    FEW_DOUBLE_MARKED,
    INDICATIVE,
    NO_DATA,
    OK,
    UNDEFINED,
    FloatArray,
    few_words,
)
from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.wording import counted, percent

INCOMPLETE = "incomplete"


@dataclass(frozen=True, slots=True)
class Form:
    """A coefficient with its interval from the F distribution; estimates below 0 stay.

    None: a mean of several educators has no lower end when the sets do not differ at all.
    """

    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Variances:
    """Mean squares: between sets, within sets, between educators, and what is left."""

    between: float
    within: float
    educators: float
    left: float


@dataclass(frozen=True, slots=True)
class Intraclass:
    """`forms` by Shrout and Fleiss' names: "1,1" "2,1" "3,1" and "1,k" "2,k" "3,k"; None unless status is
    ok or indicative. "2,1" is the headline: absolute agreement of one educator with any other."""

    sets: int
    educators: int
    forms: dict[str, Form] | None
    squares: Variances | None
    confidence: float
    status: str
    words: str


def icc(marks: npt.ArrayLike, *, confidence: float = 0.90) -> Intraclass:
    """Six intraclass correlations of `marks[set, educator]`, levels, with nan for a missing mark.

    Sets with a missing mark are left out when at least 10 complete ones remain; otherwise the status is
    `incomplete` and Krippendorff's alpha is the figure to use. P. E. Shrout and J. L. Fleiss, Psychological
    Bulletin 86 (1979) 420-428; intervals also in K. O. McGraw and S. P. Wong, Psychological Methods 1 (1996).
    """
    table = _checked(marks, confidence)
    complete = table[~np.isnan(table).any(axis=1)]
    sets, educators = complete.shape
    problem = _problem(table, complete)
    if problem is not None:
        return Intraclass(sets, educators, None, None, confidence, *problem)
    squares = _squares(complete)
    forms = _forms(squares, sets, educators, confidence)
    status = INDICATIVE if sets < FEW_DOUBLE_MARKED else OK
    return Intraclass(
        sets, educators, forms, squares, confidence, status, _words(forms, complete, confidence)
    )


def _checked(marks: npt.ArrayLike, confidence: float) -> FloatArray:
    table = np.asarray(marks, dtype=float)
    if table.ndim != 2:
        raise ScoringInputError("not_a_table", "Give one row a set and one column an educator.")
    if np.isinf(table).any():
        raise ScoringInputError("bad_level", "A mark is not a number. Correct it, or leave it out.")
    if not 0 < confidence < 1:
        raise ScoringInputError("confidence_out_of_range", "Give a confidence between 0 and 1.")
    return table


def _problem(table: FloatArray, complete: FloatArray) -> tuple[str, str] | None:
    """(status, words) when the coefficients cannot be given."""
    if table.shape[1] < 2:
        return NO_DATA, "Only one educator has marked. Ask for second marks."
    if len(complete) < len(table) and len(complete) < FEW_DOUBLE_MARKED:
        return INCOMPLETE, (
            f"Only {counted(len(complete), 'set')} of {len(table)} carry a mark of every educator; "
            "use alpha, which allows missing marks."
        )
    if len(complete) < 2:
        return NO_DATA, "Fewer than two sets are marked by all. Mark more sets together."
    if np.ptp(complete) == 0:
        return UNDEFINED, "Every mark is the same level; the correlation is undefined (raw agreement 100 %)."
    return None


def _squares(table: FloatArray) -> Variances:
    sets, educators = table.shape
    by_set, by_educator, mean = table.mean(axis=1), table.mean(axis=0), table.mean()
    left = table - by_set[:, None] - by_educator + mean
    return Variances(
        between=float(educators * ((by_set - mean) ** 2).sum() / (sets - 1)),
        within=float(((table - by_set[:, None]) ** 2).sum() / (sets * (educators - 1))),
        educators=float(sets * ((by_educator - mean) ** 2).sum() / (educators - 1)),
        left=float((left**2).sum() / ((sets - 1) * (educators - 1))),
    )


def _forms(squares: Variances, sets: int, educators: int, confidence: float) -> dict[str, Form]:
    freedom, k = sets - 1, educators
    one = _ratio_forms(squares.between, squares.within, freedom, sets * (k - 1), confidence)
    three = _ratio_forms(squares.between, squares.left, freedom, freedom * (k - 1), confidence)
    two = _absolute_form(squares, sets, educators, confidence)
    return {
        "1,1": _mapped(one, lambda f: _single(f, k)),
        "2,1": two,
        "3,1": _mapped(three, lambda f: _single(f, k)),
        "1,k": _mapped(one, _average),
        "2,k": _mapped(two, lambda rho: k * rho / (1 + (k - 1) * rho) if 1 + (k - 1) * rho > 0 else None),
        "3,k": _mapped(three, _average),
    }


def _ratio_forms(above: float, below: float, over: int, under: int, confidence: float) -> Form:
    """The F ratio of two mean squares with its limits; infinite when nothing is left below."""
    if below <= 0:
        return Form(np.inf, np.inf, np.inf)
    ratio, upper = above / below, (1 + confidence) / 2
    return Form(
        ratio,
        ratio / float(sp.special.fdtri(over, under, upper)),
        ratio * float(sp.special.fdtri(under, over, upper)),
    )


def _mapped(form: Form, to: Callable[[float], float | None]) -> Form:
    return Form(*(None if end is None else to(end) for end in (form.value, form.low, form.high)))


def _single(ratio: float, educators: int) -> float:
    return 1.0 if np.isinf(ratio) else (ratio - 1) / (ratio + educators - 1)


def _average(ratio: float) -> float | None:
    return 1 - 1 / ratio if ratio > 0 else None


def _absolute_form(squares: Variances, sets: int, educators: int, confidence: float) -> Form:
    """ICC(2,1), absolute agreement, with Satterthwaite's degrees of freedom for the interval."""
    b, j, e, n, k = squares.between, squares.educators, squares.left, sets, educators
    rho = (b - e) / (b + (k - 1) * e + k * (j - e) / n)
    if e <= 0 and j <= 0:
        return Form(rho, rho, rho)
    per_educator, per_left = k * rho / (n * (1 - rho)), 1 + k * rho * (n - 1) / (n * (1 - rho))
    free = (per_educator * j + per_left * e) ** 2 / (
        (per_educator * j) ** 2 / (k - 1) + (per_left * e) ** 2 / ((n - 1) * (k - 1))
    )
    upper, noise = (1 + confidence) / 2, k * j + (k * n - k - n) * e
    below, above = (
        float(sp.special.fdtri(n - 1, free, upper)),
        float(sp.special.fdtri(free, n - 1, upper)),
    )
    low = n * (b - below * e) / (below * noise + n * b)
    high = n * (above * b - e) / (noise + n * above * b)
    return Form(rho, _limited(low), _limited(high))


def _limited(value: float) -> float:
    return max(-1.0, min(1.0, value))


def _words(forms: dict[str, Form], table: FloatArray, confidence: float) -> str:
    sets, educators = table.shape
    apart = np.abs(table[:, :, None] - table[:, None, :])[:, ~np.eye(educators, dtype=bool)]
    return (
        f"On {counted(sets, 'set')} marked by {educators} educators, two of them were at most one level "
        f"apart {percent(float((apart <= 1).mean()))} of the time. One educator's mark agrees with "
        f"another's to {_figure(forms['2,1'], confidence)}; the mean of all {educators} "
        f"is dependable to {_figure(forms['2,k'], confidence)}.{few_words(sets)}"
    )


def _figure(form: Form, confidence: float) -> str:
    if form.value is None:
        return "no figure that can be given, because the sets do not differ"
    ends = ("no limit" if end is None else f"{end:.2f}" for end in (form.low, form.high))
    return f"{form.value:.2f} of 1 ({100 * confidence:g} % interval {' to '.join(ends)})"
