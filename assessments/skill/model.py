"""The skill model as the rest of the product meets it: whole records in, levels and sentences out."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from assessments.skill.arrays import ParameterArrays, parameter_arrays
from assessments.skill.fading import Fading, fadings
from assessments.skill.filter import Belief, beliefs_after_each_set, first_belief, rested
from assessments.skill.interface import SkillEstimate
from assessments.skill.observations import SetRecord, StudentRecord
from assessments.skill.parameters import Parameters
from assessments.skill.report import estimates, seen_after_each_set, seen_by_skill
from assessments.skill.weak import WeakSkills, weak_skills
from assessments.skill.weakest import SkillTarget

FORMULA = "state-space-2"


@dataclass(frozen=True, slots=True)
class StateSpaceModel:
    """Ability by skill, followed from set to set; severities, difficulties and spreads from `parameters`.

    Satisfies interface.JointSkillModel. Every call filters the record afresh, so late, corrected and removed
    marks need nothing special: about 5 ms for 40 sets.
    """

    parameters: Parameters
    arrays: ParameterArrays = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "arrays", parameter_arrays(self.parameters))

    @property
    def version(self) -> str:
        return f"{FORMULA} {self.parameters.version}"

    def estimate_all(self, record: StudentRecord, *, day: float) -> tuple[SkillEstimate, ...]:
        """Every skill of the parameters on `day`, faded since the last set; no_data where it has no mark.

        Raises SkillInputError for a mark after `day` or a criterion that the parameters do not know.
        """
        sets = record.until(day)
        return estimates(self._belief(sets, day), self.arrays, seen_by_skill(sets, self.arrays))

    def weak_skills(self, record: StudentRecord, targets: Sequence[SkillTarget], *, day: float) -> WeakSkills:
        """The skills that need work, with chances. Raises as `estimate_all` does."""
        return self.weak_skills_and_belief(record, targets, day=day)[0]

    def weak_skills_and_belief(
        self, record: StudentRecord, targets: Sequence[SkillTarget], *, day: float
    ) -> tuple[WeakSkills, Belief]:
        """The same with the belief right after the last set, from which `fading` goes on."""
        sets = record.until(day)
        beliefs = beliefs_after_each_set(sets, self.arrays)
        last = beliefs[-1] if beliefs else first_belief(self.arrays, day)
        belief = rested(last, self.arrays, day)
        standing = estimates(belief, self.arrays, seen_by_skill(sets, self.arrays))
        return weak_skills(belief, self.arrays, standing, targets), last

    def fading(
        self, last: Belief, targets: Sequence[SkillTarget], *, day: float, ahead: Sequence[float]
    ) -> tuple[Fading, ...]:
        """What is expected without practice, `ahead` days after `day`, of each target; a guide."""
        return fadings(last, self.arrays, targets, day=day, ahead=ahead)

    def trend(self, record: StudentRecord) -> tuple[tuple[float, tuple[SkillEstimate, ...]], ...]:
        """(day, estimates right after the set) of every set, oldest first, from one pass."""
        sets = record.until(max((one.day for one in record.sets), default=0.0))
        beliefs = beliefs_after_each_set(sets, self.arrays)
        _, *seen = seen_after_each_set(sets, self.arrays)
        return tuple(
            (one.day, estimates(belief, self.arrays, shown))
            for one, belief, shown in zip(sets, beliefs, seen, strict=True)
        )

    def _belief(self, sets: Sequence[SetRecord], day: float) -> Belief:
        beliefs = beliefs_after_each_set(sets, self.arrays)
        return rested(beliefs[-1], self.arrays, day) if beliefs else first_belief(self.arrays, day)
