"""When a student is declared competent: each rule's evidence, its moves from set to set and its limits.

Evidence starts at 0 and rises towards competence. The same three functions, `chances`, `move` and
`verdict`, serve the decision on real sets, the exact characteristics and their simulation.
"""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from math import isfinite, log

import numpy as np
import numpy.typing as npt
import scipy as sp  # loads `special` at first use

from assessments.scoring.adjustment import FloatArray, evidence_weights, shifted_rate
from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.wording import rate_words

IntArray = npt.NDArray[np.int64]

TIE = 1e-9  # sums of the same weights in another order differ in the last digits
LONGEST_HORIZON = 400


class CompetenceInputError(ScoringInputError):
    """A rule or a set's result cannot be right; `field` names the entry to correct."""

    def __init__(self, code: str, message: str, field: str) -> None:
        super().__init__(code, message)
        self.field = field


@dataclass(frozen=True, slots=True)
class Conditions:
    """How a set was judged: `shift` of the fail rate in logits, fans inspected, teaching before it."""

    shift: float = 0.0
    inspected: int = 0
    retaught: bool = False


@dataclass(frozen=True, slots=True)
class SetResult:
    """One graded set; `failed` is None when a gate criterion carries no mark, and the set is left out.

    `faults` of `inspected` fans carry the gate fault. `retaught`: teaching was recorded just before.
    """

    failed: bool | None = None
    faults: int = 0
    inspected: int = 0
    shift: float = 0.0
    retaught: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.faults <= self.inspected:
            raise CompetenceInputError(
                "faults_exceed_inspected",
                f"{self.faults} faults recorded with {self.inspected} fans inspected. Check the ticks.",
                "faults",
            )
        if not isfinite(self.shift):
            raise CompetenceInputError(
                "bad_shift", "The severity of the educator is not a number. Estimate it again.", "shift"
            )

    @property
    def conditions(self) -> Conditions:
        return Conditions(self.shift, self.inspected, self.retaught)


@dataclass(frozen=True, slots=True, kw_only=True)
class CompetenceRule(ABC):
    """Tells an `acceptable_rate` from an `inadequate_rate`; its risks hold for `horizon` sets."""

    acceptable_rate: float
    inadequate_rate: float
    horizon: int

    def __post_init__(self) -> None:
        if not 0 < self.acceptable_rate < self.inadequate_rate < 1:
            raise CompetenceInputError(
                "rates_out_of_order",
                f"The acceptable rate is {rate_words(self.acceptable_rate)} and the inadequate one "
                f"{rate_words(self.inadequate_rate)}. Give two rates between 0 and 100 %, the acceptable one "
                "lower.",
                "acceptable_rate",
            )
        if not 1 <= self.horizon <= LONGEST_HORIZON:
            raise CompetenceInputError(
                "horizon_out_of_range",
                f"The risks are to hold for {self.horizon} sets. Give a number from 1 to {LONGEST_HORIZON}.",
                "horizon",
            )
        self.check()

    @property
    def usual(self) -> Conditions:
        """An average educator and brief, and no restart."""
        return Conditions()

    def performer(self, rate: float) -> str:
        """A student with this true rate, in words."""
        return f"a student who fails {rate_words(rate)} of sets"

    @abstractmethod
    def check(self) -> None:
        """Raises CompetenceInputError for entries of this kind of rule that cannot be."""

    def outcome(self, result: SetResult) -> int | None:
        """0 for a pass, 1 for a fail; None leaves the set out."""
        return None if result.failed is None else int(result.failed)

    def chances(self, rates: FloatArray, conditions: Conditions) -> FloatArray:
        """(outcomes, rates): the chance of each outcome at each true rate."""
        failing = shifted_rate(rates, conditions.shift)
        return np.stack([1 - failing, failing])

    def draw(self, rate: float, conditions: Conditions, rng: np.random.Generator, size: int) -> IntArray:
        return (rng.random(size) < shifted_rate(rate, conditions.shift)).astype(np.int64)

    @abstractmethod
    def move(self, evidence: FloatArray, outcome: IntArray, conditions: Conditions) -> FloatArray:
        """Evidence after a set, by broadcasting."""

    @abstractmethod
    def verdict(self, evidence: FloatArray) -> IntArray:
        """1 declared, -1 not yet, 0 undecided; same shape as `evidence`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LearningCusum(CompetenceRule):
    """Sums evidence, never below nothing: early fails are forgotten once work is good.

    D. J. Biau and R. Porcher, "A method for monitoring a process from an out of control to an in control
    state: application to the learning curve", Statistics in Medicine 29 (2010) 1900-1909.
    """

    threshold: float

    def check(self) -> None:
        check_threshold(self.threshold)

    def move(self, evidence: FloatArray, outcome: IntArray, conditions: Conditions) -> FloatArray:
        weights = np.array(evidence_weights(self.acceptable_rate, self.inadequate_rate, conditions.shift))
        return floored(evidence, weights[outcome])

    def verdict(self, evidence: FloatArray) -> IntArray:
        return (evidence >= self.threshold - TIE).astype(np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaldTest(CompetenceRule):
    """Sequential probability ratio test: for a stable candidate who asks to be tested out.

    `refuse_risk`: turned away at the acceptable rate; `declare_risk`: declared at the inadequate one. After
    "not yet" it starts again only with a set that follows recorded teaching. A. Wald, Sequential Analysis
    (1947).
    """

    refuse_risk: float
    declare_risk: float

    def check(self) -> None:
        check_risks(self.refuse_risk, self.declare_risk)

    def move(self, evidence: FloatArray, outcome: IntArray, conditions: Conditions) -> FloatArray:
        weights = np.array(evidence_weights(self.acceptable_rate, self.inadequate_rate, conditions.shift))
        return np.asarray(evidence + weights[outcome])

    def verdict(self, evidence: FloatArray) -> IntArray:
        return wald_verdict(evidence, self.refuse_risk, self.declare_risk)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOfPasses(CompetenceRule):
    """So many passes in a row; simple, and blind to who graded."""

    length: int

    def check(self) -> None:
        if not 1 <= self.length <= LONGEST_HORIZON:
            raise CompetenceInputError(
                "length_out_of_range",
                f"A run of {self.length} passes cannot be asked for. Give 1 to {LONGEST_HORIZON}.",
                "length",
            )

    def move(self, evidence: FloatArray, outcome: IntArray, conditions: Conditions) -> FloatArray:
        return np.asarray(np.where(outcome == 0, evidence + 1.0, 0.0))

    def verdict(self, evidence: FloatArray) -> IntArray:
        return (evidence >= self.length).astype(np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class FanSequential(CompetenceRule):
    """Wald's test on fans with a gate fault; `rho` is the correlation of fans within a set.

    The log likelihood of k faults in n fans is divided by the dispersion 1 + rho (n - 1), because the fans of
    one set resemble each other. `inspected`: fans in an ordinary set. A quasi-likelihood: the exact
    characteristics, from beta-binomial counts, say what it really does.
    """

    refuse_risk: float
    declare_risk: float
    rho: float = 0.05
    inspected: int = 40

    @property
    def usual(self) -> Conditions:
        return Conditions(inspected=self.inspected)

    def performer(self, rate: float) -> str:
        return f"a student with the fault on {rate_words(rate)} of fans"

    def check(self) -> None:
        check_risks(self.refuse_risk, self.declare_risk)
        if not 0 <= self.rho < 1:
            raise CompetenceInputError(
                "rho_out_of_range",
                f"The likeness of fans within a set is {self.rho:g}. Give a number from 0 to below 1.",
                "rho",
            )
        if not 1 <= self.inspected <= LONGEST_HORIZON:
            raise CompetenceInputError(
                "inspected_out_of_range",
                f"{self.inspected} fans a set cannot be inspected. Give 1 to {LONGEST_HORIZON}.",
                "inspected",
            )

    def outcome(self, result: SetResult) -> int | None:
        """Fans with the fault; None when nothing was inspected."""
        return result.faults if result.inspected else None

    def chances(self, rates: FloatArray, conditions: Conditions) -> FloatArray:
        """(n + 1, rates): beta-binomial chances of 0..n faults in the n fans inspected."""
        return beta_binomial(conditions.inspected, shifted_rate(rates, conditions.shift), self.rho)

    def draw(self, rate: float, conditions: Conditions, rng: np.random.Generator, size: int) -> IntArray:
        faulty = float(shifted_rate(rate, conditions.shift))
        if self.rho:
            spread = 1 / self.rho - 1
            return rng.binomial(conditions.inspected, rng.beta(faulty * spread, (1 - faulty) * spread, size))
        return rng.binomial(conditions.inspected, faulty, size)

    def move(self, evidence: FloatArray, outcome: IntArray, conditions: Conditions) -> FloatArray:
        clean, faulty = evidence_weights(self.acceptable_rate, self.inadequate_rate, conditions.shift)
        n = conditions.inspected
        return evidence + (outcome * faulty + (n - outcome) * clean) / (1 + self.rho * (n - 1))

    def verdict(self, evidence: FloatArray) -> IntArray:
        return wald_verdict(evidence, self.refuse_risk, self.declare_risk)


def floored(evidence: FloatArray, steps: FloatArray) -> FloatArray:
    """One step of a CUSUM that cannot fall below 0."""
    return np.asarray(np.maximum(0.0, evidence + steps))


def wald_verdict(evidence: FloatArray, refuse_risk: float, declare_risk: float) -> IntArray:
    declared = evidence >= log((1 - refuse_risk) / declare_risk) - TIE
    turned_away = evidence <= log(refuse_risk / (1 - declare_risk)) + TIE
    return declared.astype(np.int64) - turned_away


def beta_binomial(n: int, rates: FloatArray, rho: float) -> FloatArray:
    """(n + 1, rates): chances of 0..n when the rate itself varies between sets with correlation `rho`."""
    k = np.arange(n + 1)[:, None]
    choose = sp.special.gammaln(n + 1) - sp.special.gammaln(k + 1) - sp.special.gammaln(n - k + 1)
    if rho == 0:
        return np.asarray(np.exp(choose + sp.special.xlogy(k, rates) + sp.special.xlog1py(n - k, -rates)))
    inside = np.clip(rates, 1e-12, 1 - 1e-12)  # the beta law has no mass point at 0 or 1
    a, b = inside * (1 / rho - 1), (1 - inside) * (1 / rho - 1)
    return np.asarray(np.exp(choose + sp.special.betaln(k + a, n - k + b) - sp.special.betaln(a, b)))


def check_threshold(threshold: float) -> None:
    if not 0 < threshold <= 50:
        raise CompetenceInputError(
            "threshold_out_of_range",
            f"A threshold of {threshold:g} cannot be used. Give a number above 0, up to 50.",
            "threshold",
        )


def check_risks(refuse_risk: float, declare_risk: float) -> None:
    for field, risk in (("refuse_risk", refuse_risk), ("declare_risk", declare_risk)):
        if not 0 < risk < 0.5:
            raise CompetenceInputError(
                "risk_out_of_range",
                f"A risk of {rate_words(risk)} cannot be asked for. Give more than 0 and less than 50 %.",
                field,
            )
