"""What the bench handed over about one set: findings position by position, counts, lines and times."""

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from courses.mapping.judging import PairedLengths, is_off_map

BARE_MARK = "MIS"
OFF_MAP_MARK = "MAP"
MAX_GAP_MM = 20.0
MAX_DIRECTION_DEG = 180.0
SHORTEST_FOUND_MM, LONGEST_FOUND_MM = Decimal(3), Decimal(25)


class ScoringInputError(ValueError):
    """Something typed or counted cannot be true; the message says what to correct."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


@dataclass(frozen=True, slots=True)
class PositionFinding:
    """What was found at one drawn position; `gap_mm` from the lid, `direction_deg` off the local line.

    `length_mm` is the length found, `planned_mm` what the map plans for this very fan; `fan` counts from 1 at
    the inner corner of its zone and layer, 0 where nobody asked.
    `bare` says a usable lash there carries no fan: nothing to tick, nothing to measure.
    """

    eye: str
    zone: str
    layer: str
    faults: frozenset[str] = frozenset()
    bare: bool = False
    gap_mm: float | None = None
    direction_deg: float | None = None
    fan: int = 0
    length_mm: Decimal | None = None
    planned_mm: int | None = None

    def __post_init__(self) -> None:
        if self.bare:
            self._check_bare()
        if self.length_mm is not None:
            self._check_length(self.length_mm)
        if self.gap_mm is not None:
            self._check_gap(self.gap_mm)
        if self.direction_deg is not None and not 0 <= self.direction_deg <= MAX_DIRECTION_DEG:
            raise ScoringInputError(
                "direction_out_of_range",
                f"The direction at {self._place} is {self.direction_deg:g}°. Enter 0 to 180 degrees.",
            )

    @property
    def is_off_map(self) -> bool:
        if self.length_mm is None or self.planned_mm is None:
            return False
        return is_off_map(self.length_mm, self.planned_mm)

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
        if (self.gap_mm, self.direction_deg, self.length_mm) != (None, None, None):
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

    def _check_length(self, length_mm: Decimal) -> None:
        if not length_mm.is_finite():
            raise ScoringInputError(
                "length_not_a_number", f"The length at {self._place} is not a number. Measure it again."
            )
        if not SHORTEST_FOUND_MM <= length_mm <= LONGEST_FOUND_MM:
            raise ScoringInputError(
                "length_out_of_range",
                f"The length at {self._place} is {length_mm:f} mm. "
                f"Enter {SHORTEST_FOUND_MM} to {LONGEST_FOUND_MM} mm; check the decimal point.",
            )
        if length_mm != round(length_mm, 1):
            raise ScoringInputError(
                "length_too_fine",
                f"The length at {self._place} is {length_mm:f} mm. Enter it to a tenth of a millimetre.",
            )


def paired_lengths(findings: Iterable[PositionFinding]) -> tuple[PairedLengths, ...]:
    """Lengths found at the same place of both eyes; a place measured on one eye only is left out."""
    measured = sorted(
        (each for each in findings if each.length_mm is not None),
        key=lambda each: (each.zone, each.layer, each.fan, each.eye),
    )
    places = groupby(measured, key=lambda each: (each.zone, each.layer, each.fan))
    pairs = (tuple(found) for _, found in places)
    return tuple(_pair(*pair) for pair in pairs if len(pair) == 2)


def _pair(left: PositionFinding, right: PositionFinding) -> PairedLengths:
    """The map may plan the eyes apart: what was planned to differ is no fault of symmetry."""
    assert left.length_mm is not None and right.length_mm is not None  # noqa: S101  # sorted out above
    planned = (left.planned_mm or 0) - (right.planned_mm or 0)
    return PairedLengths(left.length_mm, right.length_mm, planned)


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
    def pairs(self) -> tuple[PairedLengths, ...]:
        return paired_lengths(self.findings)

    @property
    def bare(self) -> int:
        return len(self.findings) - len(self.fans)

    def fans_with(self, codes: Collection[str]) -> int:
        """Fans with at least one of these faults; a fan with two of them counts once."""
        return sum(not finding.faults.isdisjoint(codes) for finding in self.fans)
