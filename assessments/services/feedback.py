from datetime import datetime

from django.db import transaction

from academy.mail import send
from academy.models import AuditEntry
from academy.services.audit import record
from assessments.emails import feedback_letter
from assessments.models import Grade


@transaction.atomic
def send_feedback(*, grade_id: int, now: datetime) -> bool:
    """Send the student one letter about these marks; a repeat sends nothing, nor does a student who has left.

    The audit entry is what remembers the letter. Mail cannot be taken back: if the process dies between the
    mail server's answer and the commit, a repeat sends a second letter.
    """
    grade = (
        Grade.objects.select_for_update(of=("self",))
        .select_related("practice_set__student__user", "practice_set__academy", "drill", "signed_by__user")
        .filter(pk=grade_id)
        .first()
    )
    if grade is None or not grade.practice_set.student.is_current or _is_sent(grade):
        return False
    record(grade.signed_by, "send_feedback", grade, now=now)
    send(feedback_letter(grade))
    return True


def _is_sent(grade: Grade) -> bool:
    rows = AuditEntry.objects.filter(object_type=grade._meta.label_lower, object_id=str(grade.pk))
    return rows.filter(action="send_feedback").exists()
