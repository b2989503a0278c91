"""Blind second marks: the second educator's own inspection and marks, then both results side by side."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_owner, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from assessments.api.document import marking_document, second_document
from assessments.forms.marks import initial_of
from assessments.forms.second_marks import NoteForm, SecondMarksForm, WaiveForm
from assessments.models import SecondMark
from assessments.scoring.entry import MarkEntry, read_entry
from assessments.selectors import second_marks as find
from assessments.selectors.marking import Marking, hygiene_lines
from assessments.services.marking import MarksIncomplete
from assessments.services.second_choice import waive_second_mark
from assessments.services.second_marks import note_on_second_mark, sign_second_mark
from assessments.views.bench import READ_OR_WRITE
from assessments.views.marks import line_rows, row_of

OPEN, DONE = SecondMark.State.OPEN, SecondMark.State.DONE


@require_http_methods(READ_OR_WRITE)
@for_staff
def second_mark(request: MemberRequest, uid: UUID) -> HttpResponse:
    """Where it stands; once signed, both results and a place for what was agreed."""
    found = find.second_mark(request.member.academy, uid)
    if found.state != DONE:
        return render(request, "assessments/second_mark.html", _waiting(request, found))
    form = NoteForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            note_on_second_mark(
                actor=request.member, second_mark=found, text=form.cleaned_data["text"], now=timezone.now()
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The note is kept.")
            return redirect("assessments:second-mark", uid=uid)
    context = {
        "second": found,
        "comparison": find.comparison(found),
        "second_grade": found.grade,
        "notes": find.notes_on_second_mark(found),
        "form": form,
    }
    return render(request, "assessments/second_compared.html", context, status=422 if form.errors else 200)


def _waiting(request: MemberRequest, found: SecondMark) -> dict[str, Any]:
    is_own = found.assigned_to_id == request.member.pk
    page = "second-marks" if found.inspection.closed_at else "second-inspect"
    return {
        "second": found,
        "is_own": is_own and found.state == OPEN,
        "step_url": reverse(f"assessments:{page}", args=[found.uid]),
        "step": "Mark" if found.inspection.closed_at else "Inspect",
    }


@require_safe
@for_staff
def inspect(request: MemberRequest, uid: UUID) -> HttpResponse:
    found = find.own_second_mark(request.member, uid)
    if found.state != OPEN or found.inspection.closed_at:
        return redirect(
            "assessments:second-marks" if found.state == OPEN else "assessments:second-mark", uid=uid
        )
    context = {**_page(found), "document": second_document(found, now=timezone.now())}
    return render(request, "assessments/bench_inspect.html", context)


@require_http_methods(READ_OR_WRITE)
@for_staff
def marks(request: MemberRequest, uid: UUID) -> HttpResponse:
    """The marks page of the bench, for a second look."""
    found = find.own_second_mark(request.member, uid)
    if found.state != OPEN and request.method != "POST":
        return redirect("assessments:second-mark", uid=uid)
    if not found.inspection.closed_at:
        return redirect("assessments:second-inspect", uid=uid)
    entry = read_entry(found.draft)
    marking = find.second_marking(found, entry)
    form = _form(request, found, marking, entry)
    if form.is_valid():
        entry = form.entry()
        if _signed(request, form, entry, uid):
            messages.success(request, "Signed. Here are both results; talk about what differs.")
            return redirect("assessments:second-mark", uid=uid)
        marking = find.second_marking(found, entry)
    return _marks_page(request, found, marking, form)


def _form(request: MemberRequest, found: SecondMark, marking: Marking, entry: MarkEntry) -> SecondMarksForm:
    lines = hygiene_lines(found.practice_set.rubric)
    return SecondMarksForm(
        request.POST if request.method == "POST" else None,
        initial=initial_of(entry, lines),
        criteria=marking.criteria,
        lines=lines,
    )


def _signed(request: MemberRequest, form: SecondMarksForm, entry: MarkEntry, uid: UUID) -> bool:
    try:
        sign_second_mark(
            actor=request.member,
            uid=uid,
            entry=entry,
            event_uid=form.cleaned_data["uid"],
            now=timezone.now(),
        )
    except MarksIncomplete as problem:
        form.add_problems(problem.problems)
        return False
    except DomainError as problem:
        form.add_error(None, problem.message)
        return False
    return True


def _marks_page(
    request: MemberRequest, found: SecondMark, marking: Marking, form: SecondMarksForm
) -> HttpResponse:
    document = marking_document(marking)
    context = {
        **_page(found),
        "document": second_document(found, now=timezone.now()) | document,
        "form": form,
        "rows": [row_of(form, proposal) for proposal in document["proposals"]],
        "lines": line_rows(form, found.practice_set),
        "verdict": document["verdict"],
        "drills": [],
        "correcting": False,
    }
    return render(request, "assessments/bench_marks.html", context, status=422 if form.errors else 200)


def _page(found: SecondMark) -> dict[str, Any]:
    names = {
        "set": "api:second-mark",
        "events": "api:second-mark-events",
        "draft": "api:second-mark-draft",
        "clock": "assessments:second-mark",
        "inspect": "assessments:second-inspect",
        "marks": "assessments:second-marks",
    }
    urls = {page: reverse(name, args=[found.uid]) for page, name in names.items()}
    return {"practice_set": found.practice_set, "second": found, "urls": urls}


@require_http_methods(READ_OR_WRITE)
@for_owner
def waive(request: MemberRequest, uid: UUID) -> HttpResponse:
    found = find.second_mark(request.member.academy, uid)
    form = WaiveForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        try:
            waive_second_mark(actor=request.member, second_mark=found, reason=reason, now=timezone.now())
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "Nobody needs to mark this set again.")
            return redirect("assessments:agreement")
    return render(request, "assessments/second_waive.html", {"second": found, "form": form})
