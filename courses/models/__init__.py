"""Rows of what is practised and on what."""

from courses.models.briefs import BriefCell, BriefVersion, FanShape, SetBrief, StageTarget
from courses.models.catalogue import Drill, Fault, Skill
from courses.models.equipment import Head

__all__ = [
    "BriefCell",
    "BriefVersion",
    "Drill",
    "FanShape",
    "Fault",
    "Head",
    "SetBrief",
    "Skill",
    "StageTarget",
]
