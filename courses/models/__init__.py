"""Rows of what is practised and on what, and of the programme it belongs to."""

from courses.models.bookings import (
    Booking,
    BookingChange,
    CalendarFeed,
    Claim,
    ProposalLine,
    RotaProposal,
    WaitingPlace,
)
from courses.models.briefs import BriefVersion, Difficulty, FanShape, SetBrief, StageTarget
from courses.models.catalogue import Drill, Fault, Skill
from courses.models.enrolments import Enrolment, EnrolmentMove, HoursEntry, HoursKind, UnitSignOff
from courses.models.equipment import Head
from courses.models.letters import BookingLetter
from courses.models.map_guide import MapGuide
from courses.models.programmes import (
    Programme,
    ProgrammeIsPublished,
    ProgrammeUnit,
    ProgrammeVersion,
    UnitKind,
)
from courses.models.rota import (
    Bench,
    ClosedDay,
    FreeException,
    FreeHours,
    OpeningHours,
    Room,
    RotaRules,
    SessionKind,
    TaughtSkill,
    TimeAway,
    Weekday,
    WorkingHours,
)

__all__ = [
    "Bench",
    "Booking",
    "BookingChange",
    "BookingLetter",
    "BriefVersion",
    "CalendarFeed",
    "Claim",
    "ClosedDay",
    "Difficulty",
    "Drill",
    "Enrolment",
    "EnrolmentMove",
    "FanShape",
    "Fault",
    "FreeException",
    "FreeHours",
    "Head",
    "HoursEntry",
    "HoursKind",
    "MapGuide",
    "OpeningHours",
    "Programme",
    "ProgrammeIsPublished",
    "ProgrammeUnit",
    "ProgrammeVersion",
    "ProposalLine",
    "Room",
    "RotaProposal",
    "RotaRules",
    "SessionKind",
    "SetBrief",
    "Skill",
    "StageTarget",
    "TaughtSkill",
    "TimeAway",
    "UnitKind",
    "UnitSignOff",
    "WaitingPlace",
    "Weekday",
    "WorkingHours",
]
