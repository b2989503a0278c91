from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_owner
from assessments.forms.competence import MasteryForm, RuleForm
from assessments.models import CompetenceRule
from assessments.scoring.mastery import MasteryConditions
from assessments.scoring.programme_rules import parse_programme
from assessments.scoring.rule_picture import RulePicture, rule_picture
from assessments.selectors import competence_rules as find
from assessments.services.competence import change_mastery, change_rule
from courses.models import Skill

READ_OR_WRITE = ["GET", "HEAD", "POST"]


@require_safe
@for_owner
def rule_list(request: MemberRequest) -> HttpResponse:
    academy = request.member.academy
    context = {
        "rows": [
            {"skill": rules.skill, "rule": rules.newest, "picture": _picture(rules.newest.programme)}
            for rules in find.skill_rules(academy)
        ],
        "mastery": find.mastery_conditions(academy),
    }
    return render(request, "assessments/competence_rules.html", context)


@require_http_methods(READ_OR_WRITE)
@for_owner
def rule(request: MemberRequest, skill: str) -> HttpResponse:
    """Without a script the picture of what is typed comes with a GET of the same form."""
    found = find.gate_skill(skill)
    versions = find.rule_versions(request.member.academy, found)
    form = _form(request, found, versions[0], request.POST if request.method == "POST" else request.GET)
    if request.method == "POST" and form.is_valid():
        saved = change_rule(
            academy=request.member.academy,
            skill=found,
            programme=form.programme(),
            actor=request.member,
            now=timezone.now(),
        )
        messages.success(
            request,
            f"{found.name}: version {saved.number} is in force. What was declared stays declared.",
        )
        return redirect("assessments:competence-rules")
    programme = form.programme() if form.is_bound and form.is_valid() else versions[0].programme
    context = {
        "skill": found,
        "form": form,
        "picture": _picture(programme),
        "versions": versions,
    }
    return render(request, "assessments/competence_rule.html", context)


@require_safe
@for_owner
def picture(request: MemberRequest, skill: str) -> HttpResponse:
    """The fragment a script fetches while the owner types; 422 with sentences for what cannot be."""
    found = find.gate_skill(skill)
    newest = find.rule_versions(request.member.academy, found)[0]
    form = _form(request, found, newest, request.GET)
    if form.is_bound and not form.is_valid():
        return render(request, "assessments/_rule_problems.html", {"form": form}, status=422)
    programme = form.programme() if form.is_bound else newest.programme
    return render(request, "assessments/_rule_picture.html", {"picture": _picture(programme)})


@require_http_methods(READ_OR_WRITE)
@for_owner
def mastery(request: MemberRequest) -> HttpResponse:
    academy = request.member.academy
    form = (
        MasteryForm(request.POST)
        if request.method == "POST"
        else MasteryForm.of(find.mastery_conditions(academy))
    )
    if form.is_bound and form.is_valid():
        conditions = dict(form.cleaned_data)
        change_mastery(academy=academy, conditions=conditions, actor=request.member, now=timezone.now())
        messages.success(request, "The mastery conditions are saved and count from now on.")
        return redirect("assessments:competence-rules")
    return render(
        request, "assessments/competence_mastery.html", {"form": form, "default": MasteryConditions()}
    )


def _form(request: MemberRequest, skill: Skill, newest: CompetenceRule, data: Any) -> RuleForm:
    sent = data if request.method == "POST" or "preset" in data else None
    counted = find.is_counted(request.member.academy, skill)
    return RuleForm(newest.programme, sent, counted=counted)


def _picture(programme: dict[str, Any]) -> RulePicture:
    return rule_picture(parse_programme(programme))
