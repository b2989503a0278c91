"""Rows of what is practised and on what."""

from courses.models.briefs import BriefVersion, Difficulty, FanShape, SetBrief, StageTarget
from courses.models.catalogue import Drill, Fault, Skill
from courses.models.equipment import Head
from courses.models.map_guide import MapGuide

__all__ = [
    "BriefVersion",
    "Difficulty",
    "Drill",
    "FanShape",
    "Fault",
    "Head",
    "MapGuide",
    "SetBrief",
    "Skill",
    "StageTarget",
]
