"""The standard set: all educators mark one set from the same findings, then talk about what differs."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from assessments.forms.second_marks import NoteForm
from assessments.forms.standard_sets import ChooseForm, StandardMarksForm
from assessments.models import StandardSet
from assessments.selectors import standard_sets as find
from assessments.selectors.second_marks import set_to_read
from assessments.services.standard_sets import (
    choose_standard_set,
    close_standard_set,
    mark_standard_set,
    note_on_standard_set,
)
from assessments.views.bench import READ_OR_WRITE


@require_http_methods(READ_OR_WRITE)
@for_staff
def choose(request: MemberRequest, uid: UUID) -> HttpResponse:
    practice_set = set_to_read(request.member, uid)
    form = ChooseForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        why, now = form.cleaned_data["why"], timezone.now()
        try:
            standard = choose_standard_set(actor=request.member, practice_set=practice_set, why=why, now=now)
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "Every educator can mark this set now.")
            return redirect("assessments:standard-set", uid=standard.uid)
    return render(request, "assessments/standard_choose.html", {"set": practice_set, "form": form})


@require_http_methods(READ_OR_WRITE)
@for_staff
def standard_set(request: MemberRequest, uid: UUID) -> HttpResponse:
    """The findings and a level for each criterion; everybody's levels once one's own are given."""
    standard = find.standard_set(request.member.academy, uid)
    if standard.closed_at or find.has_marked(standard, request.member):
        return _compared(request, standard, NoteForm())
    criteria = find.criteria_to_mark(standard)
    form = StandardMarksForm(request.POST if request.method == "POST" else None, criteria=criteria)
    if form.is_valid():
        try:
            mark_standard_set(
                actor=request.member, standard=standard, levels=form.levels(), now=timezone.now()
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "Your levels are kept. Here is what each educator gave.")
            return redirect("assessments:standard-set", uid=uid)
    context = {
        **_page(standard),
        "form": form,
        "rows": [(row, form[row.code], list(row.descriptors.all())) for row in criteria],
        "evidence": find.evidence(standard),
    }
    return render(request, "assessments/standard_mark.html", context, status=422 if form.errors else 200)


@require_POST
@for_staff
def note(request: MemberRequest, uid: UUID) -> HttpResponse:
    standard = find.standard_set(request.member.academy, uid)
    form = NoteForm(request.POST)
    if not (standard.closed_at or find.has_marked(standard, request.member)):
        messages.info(request, "Give your own levels first; the talk comes after.")
        return redirect("assessments:standard-set", uid=uid)
    if form.is_valid():
        text = form.cleaned_data["text"]
        note_on_standard_set(actor=request.member, standard=standard, text=text, now=timezone.now())
        messages.success(request, "The note is kept.")
        return redirect("assessments:standard-set", uid=uid)
    return _compared(request, standard, form)


@require_POST
@for_staff
def close(request: MemberRequest, uid: UUID) -> HttpResponse:
    standard = find.standard_set(request.member.academy, uid)
    close_standard_set(actor=request.member, standard=standard, now=timezone.now())
    messages.success(request, "The exercise is closed; everybody can read it.")
    return redirect("assessments:standard-set", uid=uid)


def _compared(request: MemberRequest, standard: StandardSet, form: NoteForm) -> HttpResponse:
    context = {
        **_page(standard),
        "result": find.result(standard),
        "notes": find.notes_on_standard_set(standard),
        "form": form,
        "evidence": find.evidence(standard),
    }
    return render(request, "assessments/standard_compared.html", context, status=422 if form.errors else 200)


def _page(standard: StandardSet) -> dict[str, Any]:
    return {"standard": standard, "set": standard.grade.practice_set}
