from collections.abc import Mapping
from datetime import datetime

from django.db import models

from academy.models import AuditEntry, Membership


def record(  # noqa: PLR0913  # one entry has this many facts
    actor: Membership,
    action: str,
    row: models.Model,
    *,
    now: datetime,
    reason: str = "",
    before: Mapping[str, object] | None = None,
    after: Mapping[str, object] | None = None,
) -> AuditEntry:
    """Add one entry in the caller's transaction. ``action`` is the service's name."""
    return AuditEntry.objects.create(
        academy_id=actor.academy_id,
        actor=actor,
        action=action,
        object_type=row._meta.label_lower,
        object_id=str(row.pk),
        before=dict(before or {}),
        after=dict(after or {}),
        reason=reason,
        at=now,
    )
