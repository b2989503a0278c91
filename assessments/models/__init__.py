"""Rows of what is judged."""

from assessments.models.agreement import (
    AgreementReport,
    DiscussionNote,
    StandardLevel,
    StandardMark,
    StandardSet,
)
from assessments.models.certificate_batches import CertificateBatch
from assessments.models.certificates import (
    Certificate,
    CertificateEvent,
    CertificateSharing,
    PublicKey,
)
from assessments.models.competence import (
    CompetenceDecision,
    CompetenceRule,
    CompetenceStanding,
    MasteryRule,
)
from assessments.models.gate import GateClosing, GateOpening, GateSignature, GateStanding
from assessments.models.inspections import Inspection, Position
from assessments.models.marks import Grade, Mark, MarkingDraft
from assessments.models.needs import DrillCount, Need, NeedBooking, NeedRules
from assessments.models.published import RubricIsPublished
from assessments.models.rubrics import (
    BriefRubric,
    Criterion,
    HygieneLine,
    LevelDescriptor,
    Rubric,
    RubricVersion,
)
from assessments.models.second_marks import (
    SecondGrade,
    SecondLevel,
    SecondMark,
    SecondMarkEvent,
    SecondMarkRate,
)
from assessments.models.sets import PracticeSet, SetEvent
from assessments.models.skill import ParameterVersion, SkillStanding, StandingShown

__all__ = [
    "AgreementReport",
    "BriefRubric",
    "Certificate",
    "CertificateBatch",
    "CertificateEvent",
    "CertificateSharing",
    "CompetenceDecision",
    "CompetenceRule",
    "CompetenceStanding",
    "Criterion",
    "DiscussionNote",
    "DrillCount",
    "GateClosing",
    "GateOpening",
    "GateSignature",
    "GateStanding",
    "Grade",
    "HygieneLine",
    "Inspection",
    "LevelDescriptor",
    "Mark",
    "MarkingDraft",
    "MasteryRule",
    "Need",
    "NeedBooking",
    "NeedRules",
    "ParameterVersion",
    "Position",
    "PracticeSet",
    "PublicKey",
    "Rubric",
    "RubricIsPublished",
    "RubricVersion",
    "SecondGrade",
    "SecondLevel",
    "SecondMark",
    "SecondMarkEvent",
    "SecondMarkRate",
    "SetEvent",
    "SkillStanding",
    "StandardLevel",
    "StandardMark",
    "StandardSet",
    "StandingShown",
]
