"""Whether one educator's marks move together across criteria more than the other educators' do."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assessments.scoring.agreement import FloatArray, IntArray
from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.wording import counted

FEW_SETS = 10
NO_DATA, NO_HALO, HALO = "no_data", "no_halo", "halo"

_LEAST_MARKS = 5  # of a pair of criteria, before their correlation counts


@dataclass(frozen=True, slots=True)
class HaloFinding:
    """`own`, `others`: mean correlation between two criteria, -1..1, over the pairs of criteria both have.

    `excess` = own - others with its bootstrap interval over students; all None with too few marks.
    """

    educator: str
    sets: int
    confidence: float
    status: str
    words: str
    own: float | None = None
    others: float | None = None
    excess: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class SetMarks:
    """`marks[set, criterion]`, levels less what the skill model expected, or plain levels, nan when missing.

    With plain levels an educator whose students differ more also has marks that move together more, so give
    differences from the expected level where they are known. `educator[set]`, `student[set]`: any labels.
    """

    marks: FloatArray
    educator: npt.NDArray[np.str_]
    student: npt.NDArray[np.str_]

    def __post_init__(self) -> None:
        if self.marks.ndim != 2 or not len(self.marks) == len(self.educator) == len(self.student):
            raise ScoringInputError(
                "marks_of_different_length", "Every set needs its marks, its educator and its student."
            )
        if np.isinf(self.marks).any():
            raise ScoringInputError("bad_level", "A mark is not a number. Correct it, or leave it out.")


def halo_check(
    given: SetMarks, educator: str, *, rng: np.random.Generator, draws: int = 1000, confidence: float = 0.90
) -> HaloFinding:
    """Compare one educator with all others together.

    A halo is a general impression that colours single marks (E. L. Thorndike, Journal of Applied Psychology
    4 (1920) 25-29); it shows as too high a correlation between criteria. Percentile bootstrap over students
    (B. Efron and R. Tibshirani, An Introduction to the Bootstrap, 1993), as one student's sets resemble each
    other. A halo is reported only when the whole interval lies above 0.
    """
    mine = given.educator == educator
    sets = int(mine.sum())
    if sets < FEW_SETS or len(given.marks) - sets < FEW_SETS or given.marks.shape[1] < 2:
        return _too_few(educator, sets, given.marks.shape[1], confidence)
    students, place = np.unique(given.student, return_inverse=True)
    sums = [_moment_sums(given.marks[side], place[side], students.size) for side in (mine, ~mine)]
    own, others = _mean_correlations(sums, np.ones((1, students.size)))
    times = rng.multinomial(students.size, np.full(students.size, 1 / students.size), size=draws)
    excess = np.subtract(*_mean_correlations(sums, times.astype(float)))
    known = excess[~np.isnan(excess)]
    if np.isnan(own[0]) or known.size < draws / 2:
        return _too_few(educator, sets, given.marks.shape[1], confidence)
    tail = (1 - confidence) / 2
    low, high = (float(end) for end in np.quantile(known, [tail, 1 - tail]))
    return _finding(educator, sets, (float(own[0]), float(others[0])), (low, high), confidence)


def _moment_sums(marks: FloatArray, student: IntArray, students: int) -> FloatArray:
    """[moment, student, pair]: n, x, y, xx, yy, xy summed over the student's sets, for each two criteria."""
    first, second = np.triu_indices(marks.shape[1], 1)
    x, y = marks[:, first], marks[:, second]
    both = ~np.isnan(x) & ~np.isnan(y)
    x, y = np.where(both, x, 0.0), np.where(both, y, 0.0)
    sums = np.zeros((6, students, first.size))
    for moment, value in enumerate((both.astype(float), x, y, x * x, y * y, x * y)):
        np.add.at(sums[moment], student, value)
    return sums


def _mean_correlations(sums: list[FloatArray], times: FloatArray) -> list[FloatArray]:
    """For each side, the mean correlation of each draw over the pairs of criteria that both sides have."""
    sides = [_correlations(side, times) for side in sums]
    both = ~np.isnan(sides[0]) & ~np.isnan(sides[1])
    pairs = both.sum(axis=1)
    return [
        np.where(pairs > 0, np.where(both, side, 0.0).sum(axis=1) / np.maximum(pairs, 1), np.nan)
        for side in sides
    ]


def _correlations(sums: FloatArray, times: FloatArray) -> FloatArray:
    """[draw, pair], nan with fewer than 5 marks or without variation."""
    n, x, y, xx, yy, xy = (times @ moment for moment in sums)
    spread = (n * xx - x * x) * (n * yy - y * y)
    known = (n >= _LEAST_MARKS) & (spread > 1e-9)
    return np.where(known, (n * xy - x * y) / np.sqrt(np.where(known, spread, 1.0)), np.nan)


def _too_few(educator: str, sets: int, criteria: int, confidence: float) -> HaloFinding:
    if criteria < 2:
        words = "A halo check needs marks on two criteria or more."
    else:
        words = (
            f"Too few varied marks for a halo check of {educator} ({counted(sets, 'set')}); "
            f"it needs at least {FEW_SETS} sets from {educator} and from the others."
        )
    return HaloFinding(educator, sets, confidence, NO_DATA, words)


def _finding(
    educator: str,
    sets: int,
    correlations: tuple[float, float],
    ends: tuple[float, float],
    confidence: float,
) -> HaloFinding:
    own, others = correlations
    low, high = ends
    status = HALO if low > 0 else NO_HALO
    figures = (
        f"on average two criteria correlate {own:.2f} in these marks and {others:.2f} in the others'; "
        f"difference {own - others:.2f}, {100 * confidence:g} % interval {low:.2f} to {high:.2f}"
    )
    if status == HALO:
        words = (
            f"The marks of {educator} move together across criteria more than those of the other educators "
            f"({figures}). A general impression may be colouring single marks; mark one criterion at a time."
        )
    else:
        words = f"No sign that a general impression colours the marks of {educator} ({figures})."
    return HaloFinding(educator, sets, confidence, status, words, own, others, own - others, low, high)
