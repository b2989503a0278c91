from django.db.models import Count, Exists, F, OuterRef, Prefetch, Q, QuerySet

from academy.errors import NotHere
from academy.models import Academy, Membership, Purpose
from courses.models import Enrolment, Programme, ProgrammeUnit, ProgrammeVersion, Skill
from courses.programme.sheet import Names

_NEWER = ProgrammeVersion.objects.filter(
    programme=OuterRef("programme"), number__gt=OuterRef("number"), published_at__isnull=False
)


def programme_versions(academy: Academy) -> QuerySet[ProgrammeVersion]:
    """Every version of every programme, newest first, retired ones last; one query.

    Each has ``units_count`` and ``students``, those on it today.
    """
    on_it = Q(enrolments__ended_at=None, enrolments__student__left_at=None)
    return (
        ProgrammeVersion.objects.filter(programme__academy=academy)
        .select_related("programme", "published_by__user", "made_by__user")
        .annotate(
            units_count=Count("units", distinct=True),
            students=Count("enrolments", filter=on_it, distinct=True),
        )
        .order_by(F("programme__retired_at").desc(nulls_first=True), "programme__name", "-number")
    )


def version(academy: Academy, version_id: int) -> ProgrammeVersion:
    """One version with its units; two queries."""
    found = with_units(programme_versions(academy)).filter(pk=version_id).first()
    if found is None:
        raise NotHere("programme version")
    return found


def offered_versions(academy: Academy) -> QuerySet[ProgrammeVersion]:
    """The newest published version of every programme not retired, with units; two queries."""
    return with_units(
        ProgrammeVersion.objects.filter(
            ~Exists(_NEWER),
            programme__academy=academy,
            programme__retired_at=None,
            published_at__isnull=False,
        )
        .select_related("programme__academy")
        .order_by("programme__name")
    )


def published_before(version: ProgrammeVersion) -> ProgrammeVersion | None:
    """The newest published version before this one, with units; up to two queries."""
    earlier = ProgrammeVersion.objects.filter(
        programme=version.programme_id, number__lt=version.number, published_at__isnull=False
    )
    return with_units(earlier).first()


def draft_of(programme: Programme) -> ProgrammeVersion | None:
    return ProgrammeVersion.objects.filter(programme=programme, published_at=None).first()


def programme_named(academy: Academy, name: str) -> Programme | None:
    return Programme.objects.filter(academy=academy, name__iexact=name).first()


def not_enrolled(academy: Academy) -> QuerySet[Membership]:
    """Current students on no programme, by cohort and name; one query."""
    enrolled = Enrolment.objects.filter(student=OuterRef("pk"), ended_at=None)
    return (
        Membership.objects.filter(~Exists(enrolled), academy=academy, role="student", left_at=None)
        .select_related("user", "cohort")
        .order_by(F("cohort__starts_on").desc(nulls_last=True), "user__name", "id")
    )


def names() -> Names:
    """What the codes in a programme's rules are called; one query."""
    skills = dict(Skill.objects.values_list("code", "name"))
    return Names(purposes=dict(Purpose.choices), skills=skills)


def with_units(found: QuerySet[ProgrammeVersion]) -> QuerySet[ProgrammeVersion]:
    return found.prefetch_related(Prefetch("units", ProgrammeUnit.objects.order_by("position")))
