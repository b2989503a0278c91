"""The letters of this floor: what each says, and to whom."""

from django.conf import settings
from django.urls import reverse

from academy.mail import Letter
from assessments.models import Grade


def feedback_letter(grade: Grade) -> Letter:
    """What the marks of one set say; costs queries unless set, student and drill are selected."""
    practice_set = grade.practice_set
    student = practice_set.student
    path = reverse("assessments:set", args=[practice_set.uid])
    return Letter(
        folder="assessments/feedback",
        name=student.user.name,
        address=student.user.email,
        context={
            "grade": grade,
            "practice_set": practice_set,
            "academy": practice_set.academy,
            "educator": grade.signed_by.name,
            "gates": [gate["words"] for gate in grade.verdict.get("gates", [])],
            "worst": grade.verdict.get("worst", []),
            "link": f"{settings.SITE_URL}{path}",
        },
    )
