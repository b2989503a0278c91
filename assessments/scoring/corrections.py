"""How much likelier a fail is for who graded and what was built: the door to the skill model's figures."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

from assessments.scoring.adjustment import fail_shift


@dataclass(frozen=True, slots=True)
class Judged:
    """Who marked a set and on which brief version (keys), with the lowest level that passes."""

    educator: int
    brief: int
    cut: int


class Correction(Protocol):
    """`is_known`: whether there are figures to correct by."""

    @property
    def is_known(self) -> bool: ...

    def shift(self, judged: Judged, rates: tuple[float, float]) -> float:
        """Shift of the fail rate in logits, above 0 where fails are likelier than with the average."""
        ...


@dataclass(frozen=True, slots=True)
class NoCorrection:
    """Until there are figures everybody counts as average."""

    is_known: bool = False

    def shift(self, judged: Judged, rates: tuple[float, float]) -> float:
        return 0.0


@dataclass(frozen=True, slots=True)
class SeverityCorrection:
    """Severity of educators and difficulty of briefs in logits of the marking scale; not listed is average.

    `thresholds`: the four steps between levels 0..4 of the same scale.
    """

    severity: Mapping[int, float]
    difficulty: Mapping[int, float]
    thresholds: Sequence[float]
    is_known: bool = True

    def shift(self, judged: Judged, rates: tuple[float, float]) -> float:
        severity = self.severity.get(judged.educator, 0.0) + self.difficulty.get(judged.brief, 0.0)
        if not severity or not judged.cut:  # nothing lies below level 0
            return 0.0
        return _shift(severity, tuple(self.thresholds), judged.cut, rates)


@lru_cache(maxsize=4096)
def _shift(severity: float, thresholds: tuple[float, ...], cut: int, rates: tuple[float, float]) -> float:
    """Found by bisection, and asked for again with every set of one educator on one brief."""
    return fail_shift(severity, thresholds, cut=cut, rates=rates)
