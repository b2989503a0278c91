"""Rows of what is judged."""

from assessments.models.competence import (
    CompetenceDecision,
    CompetenceRule,
    CompetenceStanding,
    MasteryRule,
)
from assessments.models.inspections import Inspection, Position
from assessments.models.marks import Grade, Mark, MarkingDraft
from assessments.models.published import RubricIsPublished
from assessments.models.rubrics import (
    BriefRubric,
    Criterion,
    HygieneLine,
    LevelDescriptor,
    Rubric,
    RubricVersion,
)
from assessments.models.sets import PracticeSet, SetEvent
from assessments.models.skill import SkillStanding

__all__ = [
    "BriefRubric",
    "CompetenceDecision",
    "CompetenceRule",
    "CompetenceStanding",
    "Criterion",
    "Grade",
    "HygieneLine",
    "Inspection",
    "LevelDescriptor",
    "Mark",
    "MarkingDraft",
    "MasteryRule",
    "Position",
    "PracticeSet",
    "Rubric",
    "RubricIsPublished",
    "RubricVersion",
    "SetEvent",
    "SkillStanding",
]
