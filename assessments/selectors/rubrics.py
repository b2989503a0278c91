from django.db.models import Count, Prefetch, QuerySet

from academy.errors import DomainError, NotHere
from academy.models import Academy, Membership
from academy.read_once import read_once
from assessments.models import Criterion, Rubric, RubricVersion
from courses.models import SetBrief


class NoRubricYet(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "no_rubric_yet", "This academy has no published rubric. The owner publishes one under Rubrics."
        )


def rubric(academy: Academy, name: str) -> Rubric | None:
    return Rubric.objects.filter(academy=academy, name=name).first()


def versions(academy: Academy) -> QuerySet[RubricVersion]:
    """Every version of every rubric, newest first, with ``criteria_count``; one query."""
    return (
        RubricVersion.objects.filter(rubric__academy=academy)
        .select_related("rubric", "published_by__user")
        .annotate(criteria_count=Count("criteria"))
        .order_by("rubric__name", "-number")
    )


def published_versions(academy: Academy) -> QuerySet[RubricVersion]:
    return versions(academy).filter(published_at__isnull=False)


def version(academy: Academy, version_id: int) -> RubricVersion:
    """One version with its criteria, descriptors and hygiene lines; four queries."""
    return _one(versions(academy), version_id)


def version_for(member: Membership, version_id: int) -> RubricVersion:
    """As ``version``; a student sees only what is published."""
    return _one(
        versions(member.academy) if member.is_staff_here else published_versions(member.academy), version_id
    )


def criterion(academy: Academy, criterion_id: int) -> Criterion:
    """One criterion with its descriptors; two queries."""
    found = _criteria().filter(version__rubric__academy=academy, pk=criterion_id).first()
    if found is None:
        raise NotHere("criterion")
    return found


def draft_of(rubric: Rubric) -> RubricVersion | None:
    return RubricVersion.objects.filter(rubric=rubric, published_at=None).first()


@read_once
def rubric_for(brief: SetBrief) -> RubricVersion:
    """The version this brief is marked with: the one chosen for it, or the academy's newest published."""
    published = published_versions(brief.academy)
    found = published.filter(pk__in=_chosen(brief)).first()
    found = found or published.order_by("-published_at", "-pk").first()
    if found is None:
        raise NoRubricYet
    return found


def chosen_version_id(brief: SetBrief) -> int | None:
    return next(iter(_chosen(brief)), None)


def _chosen(brief: SetBrief) -> list[int]:
    choice = getattr(brief, "rubric_choice", None)
    return [choice.version_id] if choice else []


def _one(found: QuerySet[RubricVersion], version_id: int) -> RubricVersion:
    complete = found.prefetch_related(Prefetch("criteria", _criteria()), "hygiene_lines")
    one = complete.filter(pk=version_id).first()
    if one is None:
        raise NotHere("rubric version")
    return one


def _criteria() -> QuerySet[Criterion]:
    return Criterion.objects.select_related("skill", "version__rubric").prefetch_related("descriptors")
