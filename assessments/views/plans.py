"""Plans of the rota: asked for, waited for, looked at as differences, accepted whole or line by line."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError, NotHere
from academy.forms import show_refusal
from assessments.forms.plans import DecisionForm, PlanForm
from assessments.services.retraining import accept_plan, accept_plan_line, ask_for_plan
from courses.models import ProposalLine, RotaProposal
from courses.selectors import planning as find
from courses.selectors.plan_weeks import plan_weeks
from courses.services.plan_lines import Accepted, refuse_line
from courses.services.planning import CUT_SHORT, UNDER_WAY, is_cut_short

READ_OR_WRITE = ["GET", "HEAD", "POST"]
SHOWN = 12
Change = ProposalLine.Change


@require_http_methods(READ_OR_WRITE)
@for_staff
def plan_list(request: MemberRequest) -> HttpResponse:
    """The plans asked for, and the form to ask for one."""
    academy, now = request.member.academy, timezone.now()
    form = PlanForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            asked = ask_for_plan(academy=academy, actor=request.member, now=now, **form.cleaned_data)
        except DomainError as error:
            show_refusal(form, error)
        else:
            return redirect("assessments:plan", asked.uid)
    rows = [(each, _standing(each, now)[0]) for each in find.proposals(academy)[:SHOWN]]
    return render(request, "assessments/plan_list.html", {"form": form, "rows": rows})


@require_safe
@for_staff
def plan(request: MemberRequest, uid: UUID) -> HttpResponse:
    """How far it is, or what it changes; the first also as JSON for the page's script."""
    found, now = find.proposal(request.member.academy, uid), timezone.now()
    state, words = _standing(found, now)
    if request.get_preferred_type(["text/html", "application/json"]) == "application/json":
        told = {"state": state, "words": words, "done": found.progress}
        answer: HttpResponse = JsonResponse(told)
    else:
        context = {"plan": found, "state": state, "words": words, **_lines(found)}
        answer = render(request, "assessments/plan.html", context)
    patch_vary_headers(answer, ["Accept"])
    return answer


@require_POST
@for_staff
def plan_decide(request: MemberRequest, uid: UUID) -> HttpResponse:
    found, now = find.proposal(request.member.academy, uid), timezone.now()
    form = DecisionForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose a line and what is to become of it.")
        return redirect("assessments:plan", uid)
    try:
        _decide(request, found, form.cleaned_data["line"], form.cleaned_data["decision"], now)
    except DomainError as error:
        messages.error(request, error.message)
    return redirect("assessments:plan", uid)


def _lines(found: RotaProposal) -> dict[str, object]:
    """The lines by what they ask of the reader; three queries."""
    lines = find.lines_of(found)
    changes = [each for each in lines if each.change not in {Change.UNCHANGED, Change.UNPLACED}]
    return {
        "weeks": plan_weeks(found, lines),
        "changes": changes,
        "left": sum(each.state == ProposalLine.State.OPEN for each in changes),
        "unchanged": [each for each in lines if each.change == Change.UNCHANGED],
        "unplaced": [each for each in lines if each.change == Change.UNPLACED],
    }


def _decide(
    request: MemberRequest, found: RotaProposal, line_id: int | None, decision: str, now: datetime
) -> None:
    if line_id is None:
        _tell(request, accept_plan(proposal=found, actor=request.member, now=now))
        return
    line = ProposalLine.objects.filter(proposal=found, pk=line_id).first()
    if line is None:
        raise NotHere("line")
    if decision == "refuse":
        refuse_line(line=line, actor=request.member, now=now)
        messages.success(request, "Refused. Nothing changes there.")
    else:
        _tell(request, [accept_plan_line(line=line, actor=request.member, now=now)])


def _tell(request: MemberRequest, done: Sequence[Accepted]) -> None:
    kept = sum(each.booking is not None for each in done)
    lost = len(done) - kept
    if kept:
        noun = "line" if kept == 1 else "lines"
        messages.success(request, f"{kept} {noun} accepted. Those concerned are told.")
    if lost:
        verb = "has" if lost == 1 else "have"
        messages.warning(
            request, f"{lost} {verb} changed since the plan was computed, so nothing was done there."
        )


def _standing(found: RotaProposal, now: datetime) -> tuple[str, str]:
    """One word for the page, and a sentence for people."""
    if is_cut_short(found, now):
        return "failed", CUT_SHORT
    if found.state in UNDER_WAY:
        words = "Waiting to be computed." if found.progress == 0 else f"{found.progress} % of the time used."
        return "working", words
    return found.state, found.words
