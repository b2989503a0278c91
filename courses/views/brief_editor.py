from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.brief_editor import BriefForm
from courses.models import BriefVersion
from courses.selectors import briefs as find
from courses.selectors.map_draft import MapDraft, map_draft
from courses.selectors.map_guides import map_guide
from courses.services.briefs import BriefMovedOn, add_brief, content_of, revise_brief

READ_OR_WRITE = ["GET", "HEAD", "POST"]
Save = Callable[[BriefForm], BriefVersion]


@require_http_methods(READ_OR_WRITE)
@for_staff
def brief_new(request: MemberRequest) -> HttpResponse:
    form = BriefForm(request.POST if request.method == "POST" else None)

    def save(form: BriefForm) -> BriefVersion:
        academy, actor = request.member.academy, request.member
        return add_brief(academy=academy, content=form.content(), actor=actor, now=timezone.now())

    return _save(request, form, save) or _page(request, form, {"keep_as": "new"})


@require_http_methods(READ_OR_WRITE)
@for_staff
def brief_edit(request: MemberRequest, brief_id: int) -> HttpResponse:
    one = find.brief(request.member.academy, brief_id)
    newest = find.newest_version(one)
    sent = request.POST if request.method == "POST" else None
    form = BriefForm.of(sent, content_of(newest), newest.number)

    def save(form: BriefForm) -> BriefVersion:
        content, base = form.content(), form.cleaned_data["base"]
        try:
            return revise_brief(
                brief=one, content=content, actor=request.member, now=timezone.now(), base=base
            )
        except BriefMovedOn:
            form.start_from(newest.number)
            raise

    context = {"brief": one, "newest": newest, "next_number": newest.number + 1}
    context["keep_as"] = f"{one.pk}.{newest.number}"
    return _save(request, form, save) or _page(request, form, context)


@require_POST
@for_staff
def brief_draft(request: MemberRequest) -> HttpResponse:
    """A fragment: the map as typed so far, drawn and reckoned. Saves nothing; one query."""
    form = BriefForm(request.POST)
    form.is_valid()
    return render(request, "courses/_map_editor.html", _map_context(request, form))


def _save(request: MemberRequest, form: BriefForm, save: Save) -> HttpResponse | None:
    """To the saved version, or None when the form has to be shown, with every sentence it needs."""
    if request.method != "POST" or "lay_out" in request.POST:
        return None
    if not form.is_valid() or not form.check_layout():
        return None
    try:
        made = save(form)
    except DomainError as error:
        show_refusal(form, error)
        return None
    words = f"Version {made.number} of {made.brief.name} is what new sets are built to."
    messages.success(request, words if made.number > 1 else f"The brief {made.brief.name} is made.")
    return redirect("courses:brief", made.brief_id)


def _page(request: MemberRequest, form: BriefForm, context: dict[str, Any]) -> HttpResponse:
    return render(request, "courses/brief_form.html", _map_context(request, form) | context)


def _map_context(request: MemberRequest, form: BriefForm) -> dict[str, Any]:
    return {"form": form, "draft": _draft(request, form)}


def _draft(request: MemberRequest, form: BriefForm) -> MapDraft | None:
    """None while nobody could work from the map."""
    if form.lash_map is None:
        return None
    return map_draft(
        form.lash_map,
        map_guide(request.member.academy),
        lashes=form.lashes(),
        difficulty=str(form["difficulty"].value() or ""),
        silenced=form.silenced,
    )
