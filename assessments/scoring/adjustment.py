"""What an educator's severity and a brief's difficulty do to a fail rate, and what a pass is then worth."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import scipy as sp  # loads `special` at first use

FloatArray = npt.NDArray[np.float64]


def shifted_rate(rate: npt.ArrayLike, shift: float) -> FloatArray:
    """The fail rate, 0..1, where fails are `shift` logits likelier; a lenient educator shifts below 0."""
    return np.asarray(sp.special.expit(sp.special.logit(np.asarray(rate, dtype=float)) + shift))


def evidence_weights(acceptable: float, inadequate: float, shift: float = 0.0) -> tuple[float, float]:
    """(pass, fail): log likelihood ratio for the acceptable fail rate against the inadequate one.

    Both rates are moved by `shift` first, so a pass from a lenient educator counts for less. A. Wald,
    Sequential Analysis (1947); adjusted as in S. H. Steiner et al., Biostatistics 1 (2000) 441-452.
    """
    ready, unready = shifted_rate([acceptable, inadequate], shift)
    return float(np.log((1 - ready) / (1 - unready))), float(np.log(ready / unready))


def fail_shift(
    severity: float, thresholds: Sequence[float], *, cut: int, rates: tuple[float, float]
) -> float:
    """Shift of the fail rate, in logits, for `severity` logits on the marking scale.

    A fail is a level below `cut` under the rating-scale model (D. Andrich, Psychometrika 43 (1978)
    561-573) with `thresholds`. One logit on that scale moves a fail rate by more than one, and not by
    the same everywhere: this is the mean over the two `rates` that a competence rule compares.
    """
    eta = _eta_at(np.asarray(rates), thresholds, cut)
    moved = sp.special.logit(_chance_below(eta - severity, thresholds, cut)) - sp.special.logit(
        np.asarray(rates)
    )
    return float(moved.mean())


def _chance_below(eta: FloatArray, thresholds: Sequence[float], cut: int) -> FloatArray:
    levels = np.arange(len(thresholds) + 1)
    steps = np.concatenate([[0.0], np.cumsum(thresholds)])
    chances = sp.special.softmax(np.outer(eta, levels) - steps, axis=1)
    return np.asarray(chances[:, :cut].sum(axis=1))


def _eta_at(rates: FloatArray, thresholds: Sequence[float], cut: int) -> FloatArray:
    """Where each fail rate arises, by bisection: the chance of a fail falls all along the scale."""
    low, high = np.full(rates.shape, -30.0), np.full(rates.shape, 30.0)
    for _ in range(60):
        middle = (low + high) / 2
        too_high = _chance_below(middle, thresholds, cut) < rates
        low, high = np.where(too_high, low, middle), np.where(too_high, middle, high)
    return np.asarray((low + high) / 2)
