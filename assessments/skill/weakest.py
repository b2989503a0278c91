"""Skills in the order in which they need work, gates first."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

from assessments.skill.interface import TOP_LEVEL, SkillEstimate, SkillInputError, no_estimate

_Z90 = NormalDist().inv_cdf(0.95)  # half a two-sided 90 % interval, in standard deviations


@dataclass(frozen=True, slots=True)
class SkillTarget:
    """The level, 0 to 4, that the programme asks of a skill."""

    skill: str
    name: str
    is_gate: bool
    target: float

    def __post_init__(self) -> None:
        if not 0 <= self.target <= TOP_LEVEL:
            raise SkillInputError(
                "target_out_of_range", f"The target of {self.name} is off the scale. Set a level from 0 to 4."
            )


@dataclass(frozen=True, slots=True)
class SkillNeed:
    """``gap``: levels still missing, negative when above target; None without data, as ``chance_below``."""

    skill: str
    name: str
    is_gate: bool
    target: float
    estimate: SkillEstimate
    gap: float | None
    chance_below: float | None


def order_by_need(
    estimates: Sequence[SkillEstimate], targets: Sequence[SkillTarget]
) -> tuple[SkillNeed, ...]:
    """One need for each target, weakest first.

    Gate skills below target lead, then the largest gap; skills without data close the list; ties go by
    name. A target without an estimate is listed as having no data. An estimate without a target is
    refused rather than dropped, because a weak gate skill could hide that way.
    """
    _refuse_repeats(estimate.skill for estimate in estimates)
    _refuse_repeats(target.skill for target in targets)
    known = {estimate.skill: estimate for estimate in estimates}
    for skill in sorted(known.keys() - {target.skill for target in targets}):
        raise SkillInputError("skill_without_target", f"Skill {skill} has no target level. Set one for it.")
    needs = (_need(known.get(target.skill, no_estimate(target.skill)), target) for target in targets)
    return tuple(sorted(needs, key=_rank))


def chance_below(estimate: SkillEstimate, target: float) -> float | None:
    """Rough probability that the true level is below ``target``; None without data.

    Normal approximation: mean at the level, standard deviation = the longer arm of the 90 % interval
    / 1.645. The longer arm, because the other may have been cut off at the end of the scale. It
    understates the tails of an estimate from one or two sets; use it to rank and prompt, not to decide.
    """
    if estimate.level is None or estimate.low is None or estimate.high is None:
        return None
    spread = max(estimate.level - estimate.low, estimate.high - estimate.level) / _Z90
    if spread <= 0:
        return 1.0 if estimate.level < target else 0.0
    return NormalDist(estimate.level, spread).cdf(target)


def _need(estimate: SkillEstimate, target: SkillTarget) -> SkillNeed:
    gap = None if estimate.level is None else target.target - estimate.level
    return SkillNeed(
        skill=target.skill,
        name=target.name,
        is_gate=target.is_gate,
        target=target.target,
        estimate=estimate,
        gap=gap,
        chance_below=chance_below(estimate, target.target),
    )


def _rank(need: SkillNeed) -> tuple[bool, bool, float, str, str]:
    gap = round(need.gap or 0.0, 9)  # 3.0 - 2.9 and 1.0 - 0.9 are a tie
    return need.gap is None, not (need.is_gate and gap > 0), -gap, need.name, need.skill


def _refuse_repeats(skills: Iterable[str]) -> None:
    seen: set[str] = set()
    for skill in skills:
        if skill in seen:
            raise SkillInputError("skill_twice", f"Skill {skill} is listed twice. List it once.")
        seen.add(skill)
