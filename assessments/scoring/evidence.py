"""What the bench handed over about one set: findings position by position, counts, lines and times."""

import math
from collections.abc import Collection
from dataclasses import dataclass

BARE_MARK = "MIS"
MAX_GAP_MM = 20.0
MAX_DIRECTION_DEG = 180.0


class ScoringInputError(ValueError):
    """Something typed or counted cannot be true; the message says what to correct."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


@dataclass(frozen=True, slots=True)
class PositionFinding:
    """What was found at one drawn position; `gap_mm` from the lid, `direction_deg` off the local line.

    `bare` says a usable lash there carries no fan: nothing to tick, nothing to measure.
    """

    eye: str
    zone: str
    layer: str
    faults: frozenset[str] = frozenset()
    bare: bool = False
    gap_mm: float | None = None
    direction_deg: float | None = None

    def __post_init__(self) -> None:
        if self.bare:
            self._check_bare()
        if self.gap_mm is not None:
            self._check_gap(self.gap_mm)
        if self.direction_deg is not None and not 0 <= self.direction_deg <= MAX_DIRECTION_DEG:
            raise ScoringInputError(
                "direction_out_of_range",
                f"The direction at {self._place} is {self.direction_deg:g}°. Enter 0 to 180 degrees.",
            )

    @property
    def _place(self) -> str:
        return f"{self.eye} eye, {self.zone}, layer {self.layer}"

    def _check_bare(self) -> None:
        if others := sorted(self.faults - {BARE_MARK}):
            raise ScoringInputError(
                "bare_with_faults",
                f"The position at {self._place} is marked bare but has {', '.join(others)} ticked. "
                "Untick the faults, or untick bare.",
            )
        if self.gap_mm is not None or self.direction_deg is not None:
            raise ScoringInputError(
                "bare_measured",
                f"The position at {self._place} is marked bare but has a measure. "
                "Clear the measure, or untick bare.",
            )

    def _check_gap(self, gap_mm: float) -> None:
        if not math.isfinite(gap_mm):
            raise ScoringInputError(
                "gap_not_a_number", f"The gap at {self._place} is not a number. Measure it again."
            )
        if gap_mm < 0:
            raise ScoringInputError(
                "negative_gap", f"The gap at {self._place} is {gap_mm:g} mm. Enter 0 mm or more."
            )
        if gap_mm > MAX_GAP_MM:
            raise ScoringInputError(
                "gap_too_wide",
                f"The gap at {self._place} is {gap_mm:g} mm. Enter 20 mm or less; check the decimal point.",
            )


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything known about one set; None means not yet counted, ticked or timed. Times in seconds."""

    findings: tuple[PositionFinding, ...] = ()
    worked_s: float | None = None
    target_s: float | None = None
    lines_missed: tuple[str, ...] | None = None
    left_count: int | None = None
    right_count: int | None = None

    def __post_init__(self) -> None:
        for name, seconds in (("worked", self.worked_s), ("target", self.target_s)):
            if seconds is not None and not 0 < seconds < math.inf:
                raise ScoringInputError(
                    "non_positive_time", f"The {name} time is {seconds:g} s. Enter a time above zero."
                )
        for eye, count in (("left", self.left_count), ("right", self.right_count)):
            if count is not None and count < 0:
                raise ScoringInputError("negative_count", f"The {eye} eye count is {count}. Enter 0 or more.")

    @property
    def fans(self) -> tuple[PositionFinding, ...]:
        """The positions that carry a fan: the only ones that count as inspected fans."""
        return tuple(finding for finding in self.findings if not finding.bare)

    @property
    def bare(self) -> int:
        return len(self.findings) - len(self.fans)

    def fans_with(self, codes: Collection[str]) -> int:
        """Fans with at least one of these faults; a fan with two of them counts once."""
        return sum(not finding.faults.isdisjoint(codes) for finding in self.fans)
