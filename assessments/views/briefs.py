from django.http import HttpResponse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from academy.access import MemberRequest, for_staff
from assessments.selectors.rubrics import NoRubricYet, rubric_for
from assessments.selectors.sampling_plan import sample_plan, sampling_words
from courses.documents import Paper, set_brief, set_brief_name
from courses.models import BriefVersion
from courses.selectors import briefs as find
from courses.selectors.brief_sheet import brief_sheet
from courses.selectors.map_guides import map_guide


@require_safe
@for_staff
def brief_print(request: MemberRequest, brief_id: int) -> HttpResponse:
    """A PDF on A4 or ``?paper=a5``; ``?version=`` an older one, ``?nth_set=`` the times of a later stage."""
    academy = request.member.academy
    one, number = find.brief(academy, brief_id), _number(request, "version")
    version = find.version(one, number) if number else find.newest_version(one)
    sheet = brief_sheet(version, map_guide(academy), nth_set=_number(request, "nth_set") or 1)
    paper: Paper = "a5" if request.GET.get("paper") == "a5" else "a4"
    file = set_brief(sheet, sampling=_sampling(version), paper=paper)
    shown = content_disposition_header(as_attachment=False, filename=set_brief_name(sheet, paper))
    headers = {"Content-Disposition": str(shown)}
    return HttpResponse(file, content_type="application/pdf", headers=headers)


def _number(request: MemberRequest, name: str) -> int | None:
    """What cannot be read is as if it had not been asked for."""
    typed = request.GET.get(name, "")
    return int(typed) if typed.isdecimal() and len(typed) < 6 else None


def _sampling(version: BriefVersion) -> tuple[str, ...]:
    try:
        return sampling_words(sample_plan(version, rubric_for(version.brief)))
    except NoRubricYet as problem:
        return (problem.message,)
