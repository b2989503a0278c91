"""Whether an educator has become stricter or milder with time, by the gap to a yardstick early and late."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
import scipy as sp  # loads `special` at first use

from assessments.scoring.agreement import FloatArray, IntArray
from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.wording import counted

FEW_SETS = 5
NO_DATA, STEADY, STRICTER, MILDER = "no_data", "steady", "stricter", "milder"


@dataclass(frozen=True, slots=True)
class Drift:
    """`early`, `late`: mean gap in levels, + when this educator marks higher; `change` = late - early with
    its interval; all None with too few sets. `cut_day`: the first day of the late window."""

    educator: str
    sets: tuple[int, int]
    confidence: float
    status: str
    words: str
    cut_day: float | None = None
    early: float | None = None
    late: float | None = None
    change: float | None = None
    low: float | None = None
    high: float | None = None


def severity_drift(
    educator: str,
    gaps: Sequence[float],
    days: Sequence[float],
    students: Sequence[str],
    *,
    cut_day: float | None = None,
    confidence: float = 0.90,
) -> Drift:
    """One entry a set: `gaps` = this educator's mark less the second educator's, or less the expected level,
    in levels; `days` since any epoch; `students`, whose sets count as one cluster.

    Sets before `cut_day` (default: the median day) are early. Welch's interval (B. L. Welch, Biometrika 34
    (1947) 28-35) on the two means, each variance between students and not between sets.
    """
    gap, day = np.asarray(gaps, dtype=float), np.asarray(days, dtype=float)
    _check(gap, day, students, confidence)
    cut = float(np.median(day)) if cut_day is None and day.size else cut_day
    late = day >= cut if cut is not None else np.zeros(0, bool)
    sets = int((~late).sum()), int(late.sum())
    who = np.unique(np.asarray(students, dtype=np.str_), return_inverse=True)[1]
    windows = [_window(gap[side], who[side]) for side in (~late, late)] if min(sets) >= FEW_SETS else []
    if not windows or min(freedom for _, _, freedom in windows) < 1:
        return Drift(educator, sets, confidence, NO_DATA, _too_few(educator, sets), cut)
    (before, *_), (after, *_) = windows
    half = _half_width(windows[0][1:], windows[1][1:], confidence)
    found = after - before, after - before - half, after - before + half
    return Drift(
        educator, sets, confidence, *_verdict(educator, sets, found, confidence), cut, before, after, *found
    )


def _too_few(educator: str, sets: tuple[int, int]) -> str:
    return (
        f"Too few sets to see a change in the marks of {educator} ({sets[0]} early, {sets[1]} late); "
        f"{FEW_SETS} sets of two students or more are needed in each window."
    )


def _window(gap: FloatArray, student: IntArray) -> tuple[float, float, int]:
    """(mean, its squared standard error between students, degrees of freedom)."""
    mean = float(gap.mean())
    _, place = np.unique(student, return_inverse=True)
    surplus = np.bincount(place, gap - mean)
    students = surplus.size
    error_sq = float((surplus**2).sum()) / gap.size**2 * students / max(students - 1, 1)
    return mean, error_sq, students - 1


def _half_width(before: tuple[float, int], after: tuple[float, int], confidence: float) -> float:
    total = before[0] + after[0]
    if total <= 0:
        return 0.0
    freedom = total**2 / (before[0] ** 2 / before[1] + after[0] ** 2 / after[1])
    return float(sp.special.stdtrit(freedom, (1 + confidence) / 2)) * sqrt(total)


def _verdict(
    educator: str, sets: tuple[int, int], found: tuple[float, float, float], confidence: float
) -> tuple[str, str]:
    change, low, high = found
    chance = f"{100 * confidence:g} % interval"
    windows = f"in the later {counted(sets[1], 'set')} than in the earlier {sets[0]}"
    if high < 0:
        return STRICTER, (
            f"{educator} has become stricter: marks lie {-change:.1f} levels lower {windows} "
            f"({chance} {-high:.1f} to {-low:.1f})."
        )
    if low > 0:
        return MILDER, (
            f"{educator} has become milder: marks lie {change:.1f} levels higher {windows} "
            f"({chance} {low:.1f} to {high:.1f})."
        )
    return STEADY, (
        f"No sign that {educator} has become stricter or milder: the change lies between "
        f"{abs(low):.1f} levels lower and {high:.1f} higher ({chance})."
    )


def _check(gap: FloatArray, day: FloatArray, students: Sequence[str], confidence: float) -> None:
    if not gap.shape == day.shape == (len(students),):
        raise ScoringInputError(
            "marks_of_different_length", "Every set needs its gap, its day and its student."
        )
    if not (np.isfinite(gap).all() and np.isfinite(day).all()):
        raise ScoringInputError(
            "bad_gap", "A gap or a day is not a number. Correct it, or leave the set out."
        )
    if not 0 < confidence < 1:
        raise ScoringInputError("confidence_out_of_range", "Give a confidence between 0 and 1.")
