"""Rows of what is practised and on what, and of the programme it belongs to."""

from courses.models.briefs import BriefVersion, Difficulty, FanShape, SetBrief, StageTarget
from courses.models.catalogue import Drill, Fault, Skill
from courses.models.enrolments import Enrolment, EnrolmentMove, HoursEntry, HoursKind, UnitSignOff
from courses.models.equipment import Head
from courses.models.map_guide import MapGuide
from courses.models.programmes import (
    Programme,
    ProgrammeIsPublished,
    ProgrammeUnit,
    ProgrammeVersion,
    UnitKind,
)

__all__ = [
    "BriefVersion",
    "Difficulty",
    "Drill",
    "Enrolment",
    "EnrolmentMove",
    "FanShape",
    "Fault",
    "Head",
    "HoursEntry",
    "HoursKind",
    "MapGuide",
    "Programme",
    "ProgrammeIsPublished",
    "ProgrammeUnit",
    "ProgrammeVersion",
    "SetBrief",
    "Skill",
    "StageTarget",
    "UnitKind",
    "UnitSignOff",
]
