"""Which skill is weakest, by probability: named only when the marks say so."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy as sp  # loads `special` at first use

from assessments.skill.arrays import Array, ParameterArrays
from assessments.skill.filter import Belief
from assessments.skill.interface import SkillEstimate
from assessments.skill.report import expected_level
from assessments.skill.weakest import SkillTarget

CLAIM = 0.5  # a skill is called the weakest when that is likelier than not
_DRAWS = 1024


@dataclass(frozen=True, slots=True)
class WeakSkill:
    """`gap`: levels still missing to the target, negative above it. `chance_below`: that the true level is
    below the target; `chance_weakest`: that no other skill lies further below, or less far above, its own."""

    target: SkillTarget
    estimate: SkillEstimate
    gap: float
    chance_below: float
    chance_weakest: float


@dataclass(frozen=True, slots=True)
class WeakSkills:
    """`skills`: those with marks, gate skills below target first, then the largest gap. `weakest`: its code,
    or None when no skill stands out; `words` says which it is."""

    skills: tuple[WeakSkill, ...]
    weakest: str | None
    words: str


def weak_skills(
    belief: Belief,
    arrays: ParameterArrays,
    estimates: Sequence[SkillEstimate],
    targets: Sequence[SkillTarget],
) -> WeakSkills:
    """Compares the skills that have marks and a target; the others are left out.

    The chances are those of the normal belief about all skills together, by 1024 points of a lattice (R. D.
    Richtmyer 1951; from memory), so the same marks always give the same chances.
    """
    wanted = {target.skill: target for target in targets}
    places = [
        place
        for place, estimate in enumerate(estimates)
        if estimate.level is not None and estimate.skill in wanted
    ]
    if not places:
        return WeakSkills((), None, "No graded sets yet.")
    asked = [wanted[estimates[place].skill] for place in places]
    gaps = gap_draws(belief, arrays, places, [target.target for target in asked])
    weakest = np.bincount(gaps.argmax(axis=0), minlength=len(places)) / gaps.shape[1]
    below = (gaps > 0).mean(axis=1)
    skills = [
        WeakSkill(
            target, estimates[place], target.target - (estimates[place].level or 0.0), *map(float, chances)
        )
        for target, place, chances in zip(asked, places, zip(below, weakest, strict=True), strict=True)
    ]
    return WeakSkills(tuple(sorted(skills, key=_rank)), *_verdict(skills))


def gap_draws(
    belief: Belief, arrays: ParameterArrays, places: Sequence[int], targets: Sequence[float]
) -> Array:
    """(skills, draws): target minus expected level, in levels, over the belief about ability."""
    spread = belief.spread()[np.ix_(places, places)]
    root = np.linalg.cholesky(spread + 1e-9 * np.eye(len(places)))
    abilities = belief.mean[list(places)][:, None] + root @ _normal_lattice(len(places))
    levels = expected_level(abilities, np.array(places), arrays)
    return np.asarray(np.array(targets)[:, None] - levels)


@lru_cache(maxsize=64)
def _normal_lattice(size: int) -> Array:
    """(size, draws) evenly spread standard normal points."""
    steps = np.sqrt(_first_primes(size))
    return np.asarray(sp.special.ndtri(np.outer(steps, np.arange(_DRAWS) + 0.5) % 1.0))


def _first_primes(count: int) -> list[int]:
    primes: list[int] = []
    number = 2
    while len(primes) < count:
        if all(number % prime for prime in primes):
            primes.append(number)
        number += 1
    return primes


def _rank(weak: WeakSkill) -> tuple[bool, float, str, str]:
    gap = round(weak.gap, 9)
    return not (weak.target.is_gate and gap > 0), -gap, weak.target.name, weak.target.skill


def _verdict(skills: Sequence[WeakSkill]) -> tuple[str | None, str]:
    """(code, sentence)."""
    if len(skills) == 1:
        return None, f"Only {skills[0].target.name} has marks, so nothing can be called the weakest skill."
    first, second = sorted(skills, key=lambda weak: (-weak.chance_weakest, weak.target.name))[:2]
    if first.chance_weakest > CLAIM:
        return (
            first.target.skill,
            f"{first.target.name} is the weakest skill, with a chance of {first.chance_weakest:.0%}.",
        )
    return None, (
        f"No skill can be called the weakest: {first.target.name} ({first.chance_weakest:.0%}) and "
        f"{second.target.name} ({second.chance_weakest:.0%}) are too close to tell apart."
    )
