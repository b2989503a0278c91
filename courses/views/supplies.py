from django.db.models import Q
from django.http import HttpResponse, HttpResponseBase, JsonResponse, StreamingHttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from academy.access import MemberRequest, for_staff
from academy.csv_forms import CONTENT_TYPE, METADATA_TYPE, data_lines, spreadsheet_lines
from academy.errors import NotHere
from academy.selectors.people import cohorts_with_sizes
from courses.documents import supplies_metadata
from courses.forms.supplies import SuppliesForm
from courses.mapping.supplies import SUPPLY_COLUMNS
from courses.selectors import briefs as find
from courses.selectors.brief_sheet import BriefSheet, brief_sheet
from courses.selectors.map_guides import map_guide


@require_safe
@for_staff
def supplies(request: MemberRequest, brief_id: int) -> HttpResponse:
    """Of the newest version, for one set and for a session of ``?students=`` at the time of ``?nth_set=``."""
    academy = request.member.academy
    version, guide = find.newest_version(find.brief(academy, brief_id)), map_guide(academy)
    form = SuppliesForm(request.GET or {"students": 1, "nth_set": 1})
    counts = form.counts()
    session = brief_sheet(version, guide, **counts)
    sets = {"One set": brief_sheet(version, guide, nth_set=counts["nth_set"])}
    if counts["students"] > 1:
        sets[f"A session of {counts['students']} students"] = session
    address = {"brief_id": brief_id, "number": version.number, **counts}
    context = {
        "form": form,
        "brief": version.brief,
        "sheet": session,
        "sets": sets.items(),
        "guide": guide,
        "cohorts": cohorts_with_sizes(academy).filter(Q(size__gt=0)),
        "data_url": reverse("courses:supplies-data", kwargs=address),
        "metadata_url": reverse("courses:supplies-metadata", kwargs=address),
    }
    return render(request, "courses/supplies.html", context)


@require_safe
@for_staff
def supplies_data(
    request: MemberRequest, brief_id: int, number: int, nth_set: int, students: int
) -> HttpResponseBase:
    """CSV: as it is, or made for a spreadsheet with ``?for=spreadsheets``."""
    sheet = _sheet(request, brief_id, number, {"students": students, "nth_set": nth_set})
    if request.GET.get("for") == "spreadsheets":
        lines, name = spreadsheet_lines, f"Supplies {sheet.version}, {students} at once.csv"
    else:
        lines, name = data_lines, _file(request)
    headers = {"Content-Disposition": str(content_disposition_header(as_attachment=True, filename=name))}
    body = lines(SUPPLY_COLUMNS, sheet.supplies.rows())
    return StreamingHttpResponse(body, content_type=CONTENT_TYPE, headers=headers)


@require_safe
@for_staff
def supplies_metadata_file(
    request: MemberRequest, brief_id: int, number: int, nth_set: int, students: int
) -> HttpResponse:
    """CSV on the Web: what the columns of the data beside it hold."""
    sheet = _sheet(request, brief_id, number, {"students": students, "nth_set": nth_set})
    name = _file(request)
    headers = {"Content-Disposition": str(content_disposition_header(as_attachment=True, filename=name))}
    data = supplies_metadata(sheet, name.removesuffix("-metadata.json"))
    return JsonResponse(data, content_type=METADATA_TYPE, headers=headers)


def _sheet(request: MemberRequest, brief_id: int, number: int, counts: dict[str, int]) -> BriefSheet:
    academy = request.member.academy
    version = find.version(find.brief(academy, brief_id), number)
    if not SuppliesForm(counts).is_valid():
        raise NotHere("list of supplies")
    return brief_sheet(version, map_guide(academy), **counts)


def _file(request: MemberRequest) -> str:
    """The last part of the address is the file's own name, so that data and metadata find each other."""
    return request.path.rpartition("/")[2]
