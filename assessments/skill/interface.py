"""What a skill model is given and what it answers; the seam at which one model replaces another."""

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from assessments.skill.observations import StudentRecord

TOP_LEVEL = 4
FEW_SETS = 3

NO_DATA = "no_data"
PROVISIONAL = "provisional"
AT_CEILING = "at_ceiling"
OK = "ok"


class SkillInputError(ValueError):
    """A mark or setting cannot be right; ``message`` says what to do."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


@dataclass(frozen=True, slots=True)
class Observation:
    """One criterion's level on one graded set.

    ``day``: days since any fixed epoch, the same for every mark of one set and different between sets.
    ``weight``: what the criterion counts beside the skill's other criteria on that set.
    """

    day: float
    level: int
    weight: float = 1.0

    def __post_init__(self) -> None:
        if not isfinite(self.day):
            raise SkillInputError("bad_day", "A mark has no valid date. Correct the date of its set.")
        if self.level not in range(TOP_LEVEL + 1):
            raise SkillInputError(
                "level_out_of_range",
                f"Level {self.level} is not on the scale. Give a whole level from 0 to 4.",
            )
        if not (isfinite(self.weight) and self.weight > 0):
            raise SkillInputError(
                "bad_weight", "The weight of a criterion must be more than 0. Correct the rubric."
            )


@dataclass(frozen=True, slots=True)
class SkillHistory:
    """Every mark of one student on one skill, in any order."""

    skill: str
    observations: tuple[Observation, ...]


@dataclass(frozen=True, slots=True)
class SkillEstimate:
    """Expected level now, 0 to 4, with a 90 % interval; all three are None when there is no data.

    ``status``: no_data, provisional (fewer than 3 graded sets), at_ceiling (every mark is 4) or ok.
    ``words``: one plain sentence of what the figure means.
    """

    skill: str
    level: float | None
    low: float | None
    high: float | None
    sets: int
    status: str
    words: str


class SkillModel(Protocol):
    @property
    def version(self) -> str:
        """Name of the formula and its defaults, stored with every estimate."""

    def estimate(self, history: SkillHistory, *, day: float) -> SkillEstimate:
        """Where the student stands on ``day``, counted as in the observations."""


class JointSkillModel(Protocol):
    """A model that reads all skills of a student together, because each says something about the others."""

    @property
    def version(self) -> str:
        """Name of the formula and of its parameter version, stored with every estimate."""

    def estimate_all(self, record: "StudentRecord", *, day: float) -> tuple[SkillEstimate, ...]:
        """Every skill the model knows, in its order; no_data for those without a mark."""


def no_estimate(skill: str) -> SkillEstimate:
    """The answer before the first graded set."""
    return SkillEstimate(skill, None, None, None, 0, NO_DATA, "No graded sets yet.")
