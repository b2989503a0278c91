from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.db.models import Max, OuterRef, Q, QuerySet, Subquery

from academy.errors import NotHere
from academy.models import Academy
from academy.read_once import read_once
from courses.models import BriefVersion, SetBrief

BRIEFS_A_PAGE = 25


@dataclass(frozen=True, slots=True)
class BriefSearch:
    """What a person looks for; empty or None finds everything."""

    style: str = ""
    fan_shape: str = ""
    diameter_hundredths: int | None = None
    difficulty: str = ""


def briefs(academy: Academy) -> QuerySet[SetBrief]:
    """Briefs not retired, each with its ``newest_number``; one query."""
    return SetBrief.objects.filter(academy=academy, retired_at=None).annotate(
        newest_number=Max("versions__number")
    )


@read_once
def brief(academy: Academy, brief_id: int) -> SetBrief:
    """One brief, retired or not: graded sets still point to it."""
    found = SetBrief.objects.filter(academy=academy, pk=brief_id).first()
    if found is None:
        raise NotHere("brief")
    return found


@read_once
def newest_version(brief: SetBrief) -> BriefVersion:
    return _complete(BriefVersion.objects.filter(brief=brief)).order_by("-number")[0]


def newest_versions(academy: Academy, search: BriefSearch | None = None) -> QuerySet[BriefVersion]:
    """The newest version of every brief in use, by name; two queries."""
    newest = BriefVersion.objects.filter(brief=OuterRef("brief")).order_by("-number").values("pk")[:1]
    found = BriefVersion.objects.filter(brief__in=briefs(academy).values("pk"), pk=Subquery(newest))
    return _complete(found).filter(_wanted(search or BriefSearch())).order_by("brief__name")


def library_page(academy: Academy, search: BriefSearch, number: int | str) -> Page[BriefVersion]:
    """One page of the same, at most the last one; three queries, however many briefs there are."""
    return Paginator(newest_versions(academy, search), BRIEFS_A_PAGE).get_page(number)


def versions(brief: SetBrief) -> QuerySet[BriefVersion]:
    """All wordings of one brief, newest first."""
    return BriefVersion.objects.filter(brief=brief).select_related("created_by__user")


def version(brief: SetBrief, number: int) -> BriefVersion:
    found = _complete(BriefVersion.objects.filter(brief=brief, number=number)).first()
    if found is None:
        raise NotHere("version of this brief")
    return found


def target_minutes(version: BriefVersion, nth_set_on_brief: int) -> int:
    """Minutes allowed for somebody's n-th set on this brief; a query unless ``targets`` are prefetched."""
    reached = [target for target in version.targets.all() if target.from_set <= max(nth_set_on_brief, 1)]
    return max(reached, key=lambda target: target.from_set).minutes


def _complete(found: QuerySet[BriefVersion]) -> QuerySet[BriefVersion]:
    return found.select_related("brief__academy", "created_by__user").prefetch_related("targets")


def _wanted(search: BriefSearch) -> Q:
    wanted = Q()
    if search.style:
        wanted &= Q(style__icontains=search.style) | Q(brief__name__icontains=search.style)
    if search.fan_shape or search.diameter_hundredths:
        wanted &= _with_fan(search.fan_shape, search.diameter_hundredths)
    if search.difficulty:
        wanted &= Q(difficulty=search.difficulty)
    return wanted


def _with_fan(shape: str, diameter: int | None) -> Q:
    """Some fan of the map is both of this shape and of this diameter."""
    wanted = f" {shape}-" if shape else "-"
    if diameter:
        wanted += f"{diameter} "
    return Q(fan_kinds__contains=wanted)
