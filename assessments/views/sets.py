from dataclasses import dataclass
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe

from academy.access import MemberRequest, for_members
from academy.errors import NotHere
from academy.models import Membership
from academy.parts import kept_part
from assessments.documents import mark_sheet, mark_sheet_name
from assessments.models import PracticeSet
from assessments.selectors.records import facts_of_graded, record_of, set_for
from assessments.selectors.second_marks import MarkingBlind


@dataclass(frozen=True, slots=True)
class NextStep:
    """What staff can do with the set now."""

    label: str
    url_name: str


STEPS = {
    "ready": NextStep("Open at the bench", "assessments:bench"),
    "working": NextStep("Open at the bench", "assessments:bench"),
    "paused": NextStep("Open at the bench", "assessments:bench"),
    "finished": NextStep("Inspect", "assessments:bench-inspect"),
    "inspected": NextStep("Mark", "assessments:bench-marks"),
    "graded": NextStep("Correct the marks", "assessments:set-correct"),
}


BODY = "assessments/_set.html"


@require_safe
@for_members
def practice_set(request: MemberRequest, uid: UUID) -> HttpResponse:
    try:
        found = set_for(request.member, uid)
    except MarkingBlind as refusal:
        return redirect("assessments:second-mark", uid=refusal.second_uid)
    context = {
        "set": found,
        "is_own": found.student_id == request.member.pk,
        "body": _body(request.member, found),
        "crumbs": _crumbs(request.member, found),
    }
    return render(request, "assessments/set.html", context)


def _body(reader: Membership, found: PracticeSet) -> SafeString:
    """Kept once graded: until then the clock runs."""
    is_own = found.student_id == reader.pk

    def gather() -> dict[str, object]:
        record = record_of(found, now=timezone.now())
        step = _step(reader, found)
        return {"set": found, "record": record, "grade": record.grade, "is_own": is_own, "step": step}

    if found.state != "graded":
        return render_to_string(BODY, gather())
    return kept_part(BODY, (is_own, reader.is_staff_here, facts_of_graded(found)), gather)


@require_safe
@for_members
def sheet(request: MemberRequest, uid: UUID) -> HttpResponse:
    record = record_of(set_for(request.member, uid), now=timezone.now())
    if record.grade is None:
        raise NotHere("mark sheet")
    shown = content_disposition_header(as_attachment=False, filename=mark_sheet_name(record))
    headers = {"Content-Disposition": str(shown)}
    return HttpResponse(mark_sheet(record), content_type="application/pdf", headers=headers)


def _step(member: Membership, found: PracticeSet) -> NextStep | None:
    return STEPS.get(found.state) if member.is_staff_here else None


def _crumbs(member: Membership, found: PracticeSet) -> list[dict[str, str]]:
    here = {"label": f"Set {found.number}"}
    if not member.is_staff_here:
        return [{"label": "My sets", "url": reverse("assessments:my-sets")}, here]
    student = [found.student_id]
    return [
        {"label": "Students", "url": reverse("assessments:student-list")},
        {"label": found.student.name, "url": reverse("assessments:student", args=student)},
        {"label": "Sets", "url": reverse("assessments:student-sets", args=student)},
        here,
    ]
