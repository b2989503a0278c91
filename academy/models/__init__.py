"""Rows of people and plumbing."""

from academy.models.audit import AuditEntry
from academy.models.kept import AppendOnly, AppendOnlyQuerySet, RecordIsFinal
from academy.models.people import Academy, Cohort, Invitation, Membership, Role, User

__all__ = [
    "Academy",
    "AppendOnly",
    "AppendOnlyQuerySet",
    "AuditEntry",
    "Cohort",
    "Invitation",
    "Membership",
    "RecordIsFinal",
    "Role",
    "User",
]
