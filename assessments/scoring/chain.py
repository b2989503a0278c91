"""The exact distribution of a rule's evidence, set by set: one dynamic programme for every rule."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assessments.scoring.adjustment import FloatArray
from assessments.scoring.competence_rules import TIE, CompetenceRule, Conditions, IntArray

MOST_STATES = 2048
COARSE = 2e-3


@dataclass(frozen=True, slots=True)
class Walk:
    """Chances by set (rows) and true rate (columns), each cumulative from the first set."""

    declared: FloatArray
    not_yet: FloatArray


@dataclass(frozen=True, slots=True)
class Spread:
    """Where the undecided stand: evidence (states,) and its chance (states, rates)."""

    evidence: FloatArray
    chance: FloatArray


def walk(rule: CompetenceRule, conditions: Sequence[Conditions], rates: Sequence[float]) -> Walk:
    """Follow every way the sets could go, at each true rate.

    Whoever is told "not yet" waits, and starts again with the next set that follows teaching.

    Exact for every rule on sets, however many educators: a logit shift leaves the odds ratio alone, so a fail
    costs the same less than a pass everywhere and few sums differ. Fan counts from sets of many different
    sizes can pass 2048 sums; they are then rounded up to the next .002, towards declaring, so a stated risk
    can only be too large.
    """
    true = np.asarray(rates, dtype=float)
    spread, waiting = starting(true.size), np.zeros(true.size)
    declared, not_yet = np.zeros((2, len(conditions), true.size))
    for index, each in enumerate(conditions):
        if each.retaught:
            spread, waiting = _rejoin(spread, waiting), np.zeros(true.size)
        spread, up, down = step(rule, spread, each, rule.chances(true, each))
        waiting = waiting + down
        declared[index], not_yet[index] = up, waiting
    return Walk(declared.cumsum(axis=0), not_yet)


def starting(rates: int) -> Spread:
    return Spread(np.zeros(1), np.ones((1, rates)))


def step(
    rule: CompetenceRule, spread: Spread, conditions: Conditions, chances: FloatArray
) -> tuple[Spread, FloatArray, FloatArray]:
    """One set on: who is still undecided, and the chances (rates,) of "declared" and "not yet" on it."""
    outcomes: IntArray = np.arange(len(chances))
    moved = rule.move(spread.evidence[:, None], outcomes[None, :], conditions).ravel()
    chance = (spread.chance[:, None, :] * chances[None, :, :]).reshape(moved.size, -1)
    verdict = rule.verdict(moved)
    up, down = chance[verdict > 0].sum(axis=0), chance[verdict < 0].sum(axis=0)
    open_still = verdict == 0
    return _merged(moved[open_still], chance[open_still]), up, down


def _rejoin(spread: Spread, waiting: FloatArray) -> Spread:
    return _merged(np.append(spread.evidence, 0.0), np.vstack([spread.chance, waiting]))


def _merged(evidence: FloatArray, chance: FloatArray) -> Spread:
    merged = _same(evidence, chance, np.round(evidence / TIE))
    if merged.evidence.size <= MOST_STATES:
        return merged
    cells = np.ceil(merged.evidence / COARSE)
    return _same(cells * COARSE, merged.chance, cells)


def _same(evidence: FloatArray, chance: FloatArray, key: FloatArray) -> Spread:
    """One state for each key. It keeps an unrounded sum, so rounding does not pile up over the sets."""
    if not evidence.size:
        return Spread(evidence, chance)
    order = np.argsort(key, kind="stable")
    starts = np.flatnonzero(np.diff(key[order], prepend=-np.inf))
    return Spread(evidence[order][starts], np.add.reduceat(chance[order], starts, axis=0))
