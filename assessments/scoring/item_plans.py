"""Fan-by-fan inspection that may stop early: the limits after each fan."""

from dataclasses import dataclass
from math import ceil, floor, log

from assessments.scoring.evidence import ScoringInputError


@dataclass(frozen=True, slots=True)
class ItemPlan:
    """Wald's item-by-item plan between two fault rates.

    After n fans accept at or below `slope` n - `accept_gap` faults, reject at or above `slope` n +
    `reject_gap`. A. Wald, Sequential Analysis (1947); NIST/SEMATECH e-Handbook 6.2.3.4.
    """

    good_rate: float
    bad_rate: float
    refuse_risk: float
    accept_risk: float

    def __post_init__(self) -> None:
        if not 0 < self.good_rate < self.bad_rate < 1:
            raise ScoringInputError(
                "rates_out_of_order", "The good fault rate must be above 0 % and below the bad one."
            )
        risks = self.refuse_risk, self.accept_risk
        if min(risks) <= 0 or sum(risks) >= 1:
            raise ScoringInputError("risk_out_of_range", "Give two risks above 0 %, together below 100 %.")

    @property
    def accept_gap(self) -> float:
        return log((1 - self.refuse_risk) / self.accept_risk) / self._scale

    @property
    def reject_gap(self) -> float:
        return log((1 - self.accept_risk) / self.refuse_risk) / self._scale

    @property
    def slope(self) -> float:
        return log((1 - self.good_rate) / (1 - self.bad_rate)) / self._scale

    def limits(self, inspected: int) -> tuple[int | None, int | None]:
        """(accept with at most, reject with at least) faults after `inspected` fans; None: not yet."""
        accept = floor(self.slope * inspected - self.accept_gap)
        reject = ceil(self.slope * inspected + self.reject_gap)
        return accept if accept >= 0 else None, reject if reject <= inspected else None

    @property
    def _scale(self) -> float:
        return log(self.bad_rate * (1 - self.good_rate) / (self.good_rate * (1 - self.bad_rate)))
