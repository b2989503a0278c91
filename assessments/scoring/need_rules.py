"""What an academy asks of retraining: after how many days, how sure, how urgent. Read from its data."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from assessments.scoring.evidence import ScoringInputError

FAILED_GATE, WEAK, LAPSE = "failed_gate", "weak", "lapse"
IDLE, RETEST, BY_HAND = "idle", "retest", "by_hand"
KINDS = (FAILED_GATE, WEAK, LAPSE, IDLE, RETEST, BY_HAND)
LEAST_PRIORITY, MOST_PRIORITY = 1, 5
MOST_DAYS = 3660
MOST_COUNT = 40
MOST_RETESTS = 8


class NeedRuleError(ScoringInputError):
    """A rule of retraining cannot be; `field` names it."""

    def __init__(self, code: str, message: str, field: str) -> None:
        super().__init__(code, message)
        self.field = field


def _priorities() -> dict[str, int]:
    return {FAILED_GATE: 5, LAPSE: 5, RETEST: 3, WEAK: 3, BY_HAND: 3, IDLE: 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedRules:
    """Defaults are a proposal, no standard: the studies of retention behind them are of other skills.

    `retest_days` after a success; `refresher_days` without any set; `regate_days` without a mark on a gate
    skill and `regate_other_days` on another; `drill_days` to answer a fault. A skill is weak when its level
    lies below the target with `certainty`, 0..1, after `weak_sets` sets; of the weak skills without another
    need the worst `most_weak` are taken up at a time. `priorities` by kind, 1 to 5; a gate skill that is weak
    or idle has one more.
    """

    retest_days: tuple[int, ...] = (7, 28, 90, 180)
    retest_gates_only: bool = True
    refresher_days: int = 60
    regate_days: int = 90
    regate_other_days: int = 180
    drill_days: int = 7
    certainty: float = 0.9
    weak_sets: int = 3
    most_weak: int = 2
    priorities: Mapping[str, int] = field(default_factory=_priorities)

    def __post_init__(self) -> None:
        if not 0.5 < self.certainty < 1:
            raise NeedRuleError(
                "certainty_out_of_range", "Give a certainty of more than 50 and less than 100 %.", "certainty"
            )
        for name in ("refresher_days", "regate_days", "regate_other_days", "drill_days"):
            _check_days(getattr(self, name), name)
        _check_count(self.weak_sets, "weak_sets")
        _check_count(self.most_weak, "most_weak")
        _check_retests(self.retest_days)
        for kind in KINDS:
            if self.priorities.get(kind) not in range(LEAST_PRIORITY, MOST_PRIORITY + 1):
                raise NeedRuleError(
                    "priority_out_of_range", f"Give a priority from 1 to 5 for {kind}.", "priorities"
                )


def parse_need_rules(data: Mapping[str, object]) -> NeedRules:
    """What is left out keeps its default; raises NeedRuleError for what cannot be."""
    for name in data:
        if name not in NeedRules.__dataclass_fields__:
            raise NeedRuleError("unknown_rule", f'"{name}" is not known here. Remove it.', name)
    values: dict[str, object] = dict(data)
    if isinstance(days := values.get("retest_days"), Sequence):
        values["retest_days"] = tuple(days)
    if isinstance(given := values.get("priorities"), Mapping):
        values["priorities"] = {**_priorities(), **given}
    return NeedRules(**values)  # type: ignore[arg-type]  # each value is checked there


def _check_days(days: object, name: str) -> None:
    if isinstance(days, bool) or not isinstance(days, int) or not 1 <= days <= MOST_DAYS:
        raise NeedRuleError("days_out_of_range", f"Give whole days from 1 to {MOST_DAYS}.", name)


def _check_count(count: object, name: str) -> None:
    if isinstance(count, bool) or not isinstance(count, int) or not 1 <= count <= MOST_COUNT:
        raise NeedRuleError("count_out_of_range", f"Give a whole number from 1 to {MOST_COUNT}.", name)


def _check_retests(days: Sequence[int]) -> None:
    for each in days:
        _check_days(each, "retest_days")
    if len(days) > MOST_RETESTS or any(later <= earlier for earlier, later in pairwise(days)):
        raise NeedRuleError(
            "retests_out_of_order",
            f"Give up to {MOST_RETESTS} retests, each later than the one before, such as 7, 28, 90, 180.",
            "retest_days",
        )
