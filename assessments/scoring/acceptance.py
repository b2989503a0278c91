"""Single sampling plans: how many fans to inspect, how many faults to allow, and what each side risks.

Formulas: D. C. Montgomery, Introduction to Statistical Quality Control, acceptance sampling by attributes.
"""

from dataclasses import dataclass
from math import ceil, log

import numpy as np
import numpy.typing as npt
import scipy as sp  # loads `special` at first use

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.wording import counted, percent, rate_words

FloatArray = npt.NDArray[np.float64]

MOST_INSPECTED = 2000
SMALL_LOT_SHARE = 0.1

ACCEPT, REJECT, TOO_FEW = "accept", "reject", "too_few"


@dataclass(frozen=True, slots=True)
class SinglePlan:
    """Inspect `inspect` fans, accept with at most `limit` faults.

    `good_rate` is turned away with chance `refuse_risk`, `bad_rate` accepted with chance `accept_risk`: the
    risks asked for. The attained ones are never larger.
    """

    good_rate: float
    bad_rate: float
    refuse_risk: float
    accept_risk: float
    inspect: int
    limit: int

    @property
    def attained_refuse_risk(self) -> float:
        return 1 - float(acceptance_probability(self.good_rate, self.inspect, self.limit))

    @property
    def attained_accept_risk(self) -> float:
        return float(acceptance_probability(self.bad_rate, self.inspect, self.limit))


@dataclass(frozen=True, slots=True)
class PlanVerdict:
    """`status`: accept, reject or too_few; `words` state the plan and its risk."""

    status: str
    words: str


def acceptance_probability(
    rate: npt.ArrayLike, inspect: int, limit: int, *, lot: int | None = None
) -> FloatArray:
    """Chance of at most `limit` faults in `inspect` fans at fault rates 0..1; shape of `rate`.

    Binomial; hypergeometric, with the nearest whole number of faulty fans, when more than a tenth of a `lot`
    is inspected.
    """
    _check_plan(inspect, limit, lot)
    rates = _rates(rate)
    if lot is None or inspect <= SMALL_LOT_SHARE * lot:
        return np.asarray(sp.special.bdtr(float(min(limit, inspect)), inspect, rates))
    return _from_small_lot(np.rint(rates * lot), inspect, limit, lot)


def average_outgoing_rate(rate: npt.ArrayLike, inspect: int, limit: int, *, lot: int) -> FloatArray:
    """AOQ: the fault rate left over when rejected lots are put right fan by fan."""
    accepted = acceptance_probability(rate, inspect, limit, lot=lot)
    return np.asarray(accepted * _rates(rate) * (lot - inspect) / lot)


def average_inspected(rate: npt.ArrayLike, inspect: int, limit: int, *, lot: int) -> FloatArray:
    """ATI: fans looked at for each lot, when a rejected lot is looked at whole."""
    accepted = acceptance_probability(rate, inspect, limit, lot=lot)
    return np.asarray(inspect + (1 - accepted) * (lot - inspect))


def outgoing_limit(inspect: int, limit: int, *, lot: int) -> tuple[float, float]:
    """AOQL: the worst average outgoing rate, and the incoming rate (to 1e-5) at which it happens."""
    low, high = 0.0, 1.0
    for _ in range(4):
        grid = np.linspace(low, high, 201)
        outgoing = average_outgoing_rate(grid, inspect, limit, lot=lot)
        worst = int(outgoing.argmax())
        low, high = grid[max(0, worst - 2)], grid[min(200, worst + 2)]
    return float(outgoing[worst]), float(grid[worst])


def design_single_plan(
    *, good_rate: float = 0.05, bad_rate: float = 0.20, refuse_risk: float = 0.05, accept_risk: float = 0.10
) -> SinglePlan:
    """The smallest plan, fewest faults allowed first, that keeps both risks. Binomial, up to 2000 fans.

    Raises ScoringInputError when the rates or risks cannot be, or when no plan is that small.
    """
    if not 0 < good_rate < bad_rate < 1:
        raise ScoringInputError(
            "rates_out_of_order", "The good fault rate must be above 0 % and below the bad one."
        )
    if not (0 < refuse_risk < 1 and 0 < accept_risk < 1):
        raise ScoringInputError("risk_out_of_range", "Give risks above 0 % and below 100 %.")
    sizes = np.arange(1, MOST_INSPECTED + 1)
    for limit in range(MOST_INSPECTED):
        enough = np.flatnonzero(sp.special.bdtr(float(limit), sizes[limit:], bad_rate) <= accept_risk)
        if not enough.size:
            break
        inspect = int(sizes[limit + enough[0]])
        if sp.special.bdtr(float(limit), inspect, good_rate) >= 1 - refuse_risk:
            return SinglePlan(good_rate, bad_rate, refuse_risk, accept_risk, inspect, limit)
    raise ScoringInputError(
        "plan_not_found",
        f"No plan of up to {MOST_INSPECTED} fans keeps these risks. Set the two rates further apart, or "
        "accept larger risks.",
    )


def judge(plan: SinglePlan, faults: int, inspected: int) -> PlanVerdict:
    """The plan's verdict with its risk at the number of fans really inspected."""
    if not 0 <= faults <= inspected:
        raise ScoringInputError(
            "faults_exceed_inspected", f"{faults} faults in {inspected} fans cannot be. Check the ticks."
        )
    found = f"{counted(faults, 'fault')} in {inspected} (limit {plan.limit})"
    if faults > plan.limit:
        refused = 1 - float(acceptance_probability(plan.good_rate, inspected, plan.limit))
        risk = _at_most(plan.refuse_risk, refused)
        good = rate_words(plan.good_rate)
        words = f"Reject: {found}. A {good} fault rate would be turned away {risk} of the time."
        return PlanVerdict(REJECT, words)
    if inspected < plan.inspect:
        return PlanVerdict(
            TOO_FEW, f"{inspected} fans inspected; a decision at these risks needs {plan.inspect}."
        )
    risk = _at_most(plan.accept_risk, float(acceptance_probability(plan.bad_rate, inspected, plan.limit)))
    words = f"Accept: {found}. A {rate_words(plan.bad_rate)} fault rate would pass {risk} of the time."
    return PlanVerdict(ACCEPT, words)


def clean_fans_needed(rate: float, *, confidence: float = 0.95) -> int:
    """Zero-fault demonstration: fans without one fault that show a rate of at most `rate`."""
    if not (0 < rate < 1 and 0 < confidence < 1):
        raise ScoringInputError(
            "rates_out_of_range", "Give a fault rate and a confidence between 0 and 100 %."
        )
    return ceil(log(1 - confidence) / log(1 - rate) - 1e-9)


def _from_small_lot(faulty: FloatArray, inspect: int, limit: int, lot: int) -> FloatArray:
    found = np.arange(min(limit, inspect) + 1.0)
    faulty = np.asarray(faulty)[..., None]
    possible = (found <= faulty) & (inspect - found <= lot - faulty)
    found = np.where(possible, found, np.maximum(0, inspect - (lot - faulty)))
    log_chance = _ln_choose(faulty, found) + _ln_choose(lot - faulty, inspect - found)
    chance = np.exp(log_chance - _ln_choose(np.asarray(float(lot)), np.asarray(float(inspect))))
    return np.asarray(np.where(possible, chance, 0.0).sum(axis=-1))


def _ln_choose(n: FloatArray, k: FloatArray) -> FloatArray:
    return np.asarray(sp.special.gammaln(n + 1) - sp.special.gammaln(k + 1) - sp.special.gammaln(n - k + 1))


def _rates(rate: npt.ArrayLike) -> FloatArray:
    rates = np.asarray(rate, dtype=float)
    if not np.all((rates >= 0) & (rates <= 1)):
        raise ScoringInputError("rate_out_of_range", "A fault rate lies between 0 and 100 %.")
    return rates


def _check_plan(inspect: int, limit: int, lot: int | None) -> None:
    if inspect < 1 or limit < 0:
        raise ScoringInputError("bad_plan", "A plan inspects at least 1 fan and allows 0 or more faults.")
    if lot is not None and inspect > lot:
        raise ScoringInputError(
            "lot_too_small", f"{inspect} fans cannot be inspected out of {lot}. Inspect fewer."
        )


def _at_most(asked: float, attained: float) -> str:
    return f"at most {rate_words(asked)}" if attained <= asked else percent(attained)
