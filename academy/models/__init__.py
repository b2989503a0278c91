"""Rows of people and plumbing."""

from academy.models.audit import AuditEntry
from academy.models.consents import Consent, Purpose
from academy.models.kept import AppendOnly, AppendOnlyQuerySet, RecordIsFinal
from academy.models.people import Academy, Cohort, Invitation, Membership, Role, User
from academy.models.published import DraftOnly, VersionIsPublished

__all__ = [
    "Academy",
    "AppendOnly",
    "AppendOnlyQuerySet",
    "AuditEntry",
    "Cohort",
    "Consent",
    "DraftOnly",
    "Invitation",
    "Membership",
    "Purpose",
    "RecordIsFinal",
    "Role",
    "User",
    "VersionIsPublished",
]
