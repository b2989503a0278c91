"""Rows of people and plumbing."""

from academy.models.audit import AuditEntry
from academy.models.kept import AppendOnly, AppendOnlyQuerySet, RecordIsFinal
from academy.models.people import Academy, Cohort, Invitation, Membership, Role, User
from academy.models.published import DraftOnly, VersionIsPublished

__all__ = [
    "Academy",
    "AppendOnly",
    "AppendOnlyQuerySet",
    "AuditEntry",
    "Cohort",
    "DraftOnly",
    "Invitation",
    "Membership",
    "RecordIsFinal",
    "Role",
    "User",
    "VersionIsPublished",
]
