from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError, NotHere
from academy.read_once import reading_once
from assessments.api.document import draft_of, entry_of, marking_document, set_document
from assessments.forms.marks import MarksForm, initial_of
from assessments.models import Grade, MarkingDraft, PracticeSet
from assessments.scoring.entry import MarkEntry, read_entry
from assessments.selectors.grades import grade_of
from assessments.selectors.marking import criteria_of, drill_choices, hygiene_lines, inspection_of, marking
from assessments.selectors.second_marks import set_to_read
from assessments.services.marking import MarksIncomplete, correct_marks, sign_marks
from assessments.views.bench import READ_OR_WRITE, bench_urls


@require_http_methods(READ_OR_WRITE)
@reading_once()
@for_staff
def sign(request: MemberRequest, uid: UUID) -> HttpResponse:
    """Confirm the proposed marks or override them with a reason, and sign."""
    practice_set = set_to_read(request.member, uid)
    if practice_set.state == "graded" and request.method != "POST":
        return redirect("assessments:set", uid=uid)
    if practice_set.state not in {"inspected", "graded"}:
        messages.info(request, "This set is not ready for marks yet.")
        return redirect("assessments:bench", uid=uid)
    entry = entry_of(draft_of(practice_set))
    form = _form(request, practice_set, entry)
    if form.is_valid():
        entry = form.entry()
        if _signed(request, form, entry, uid):
            messages.success(request, f"Signed. {practice_set.student.name} can read the marks now.")
            return redirect("assessments:set", uid=uid)
    return _page(request, practice_set, form, entry)


@require_http_methods(READ_OR_WRITE)
@reading_once()
@for_staff
def correct(request: MemberRequest, uid: UUID) -> HttpResponse:
    """A new revision of signed marks, with the reason; the earlier revisions stay readable."""
    practice_set = set_to_read(request.member, uid)
    grade = grade_of(practice_set)
    if grade is None:
        raise NotHere("signed mark")
    draft = draft_of(practice_set)
    entry = read_entry(draft.data if draft else grade.entry)
    form = _form(request, practice_set, entry, {"revision": grade.revision, "reason": _why(draft)})
    if form.is_valid():
        entry = form.entry()
        if _signed(request, form, entry, uid):
            messages.success(request, "The correction is signed. The earlier revision stays readable.")
            return redirect("assessments:set", uid=uid)
    return _page(request, practice_set, form, entry, grade)


def _form(
    request: MemberRequest,
    practice_set: PracticeSet,
    entry: MarkEntry,
    correction: Mapping[str, object] | None = None,
) -> MarksForm:
    """Four queries. Proposals are not asked for: who signs judges anew, and a page gathers what it shows."""
    lines = hygiene_lines(practice_set.rubric)
    return MarksForm(
        request.POST if request.method == "POST" else None,
        initial=initial_of(entry, lines) | dict(correction or {}),
        criteria=criteria_of(practice_set.rubric),
        lines=lines,
        drills=drill_choices(()),
        correcting=correction is not None,
    )


def _why(draft: MarkingDraft | None) -> str:
    return str(draft.data.get("why", "")) if draft else ""


def _signed(request: MemberRequest, form: MarksForm, entry: MarkEntry, uid: UUID) -> bool:
    """Hand the form to the service; False with the problems on the form when it refuses."""
    common: dict[str, Any] = {
        "actor": request.member,
        "uid": uid,
        "entry": entry,
        "now": timezone.now(),
    }
    try:
        if "reason" in form.fields:
            base = form.cleaned_data["revision"] or 0
            correct_marks(**common, reason=form.cleaned_data["reason"], base_revision=base)
        else:
            sign_marks(**common, event_uid=form.cleaned_data["uid"])
    except MarksIncomplete as problem:
        form.add_problems(problem.problems)
        return False
    except DomainError as problem:
        form.add_error(None, problem.message)
        return False
    return True


def _page(
    request: MemberRequest,
    practice_set: PracticeSet,
    form: MarksForm,
    entry: MarkEntry,
    grade: Grade | None = None,
) -> HttpResponse:
    """The form as it was sent, beside what is proposed for ``entry``."""
    document = marking_document(marking(practice_set, inspection_of(practice_set), entry))
    context = {
        "practice_set": practice_set,
        "document": set_document(practice_set, now=timezone.now()) | document,
        "urls": bench_urls(practice_set),
        "form": form,
        "rows": [row_of(form, proposal) for proposal in document["proposals"]],
        "lines": line_rows(form, practice_set),
        "verdict": document["verdict"],
        "drills": document["drills"],
        "correcting": grade is not None,
        "grade": grade,
    }
    return render(request, "assessments/bench_marks.html", context, status=422 if form.errors else 200)


def row_of(form: MarksForm, proposal: dict[str, Any]) -> dict[str, Any]:
    code = proposal["code"]
    return {
        **proposal,
        "proposal": proposal,
        "level_field": form[f"level_{code}"],
        "reason_field": form[f"reason_{code}"],
    }


def line_rows(form: MarksForm, practice_set: PracticeSet) -> list[dict[str, Any]]:
    done = form["lines_done"].value() or []
    return [
        {"code": line.code, "text": line.text, "is_critical": line.is_critical, "checked": line.code in done}
        for line in hygiene_lines(practice_set.rubric)
    ]
