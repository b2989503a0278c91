"""What the page of a student rests on, for whoever keeps what was made of it."""

from django.db.models import Count, Max

from academy.models import Academy, Membership
from academy.parts import Facts, facts_of
from assessments.models import (
    CompetenceDecision,
    CompetenceRule,
    Grade,
    MasteryRule,
    ParameterVersion,
    PracticeSet,
)
from assessments.selectors.competence import blind_markers
from courses.models import BriefVersion
from courses.selectors.catalogue import catalogue_words


def stand_facts(student: Membership) -> Facts:
    """Everything but the day that skills, times, competence and the latest faults tell; eleven queries.

    Rows that are only ever added are told by how many there are: two writers that commit in either order
    are two rows more. The others are told by what they say.
    """
    sets = PracticeSet.objects.filter(student=student).values_list("state", "brief__brief__name")
    graded = Grade.objects.filter(practice_set__student=student).values_list("signed_by__user__name")
    return (
        facts_of(student),
        tuple(sets.annotate(Count("pk")).order_by("state", "brief__brief__name")),
        tuple(graded.annotate(Count("pk"), Max("signed_at")).order_by("signed_by__user__name")),
        sorted(blind_markers(student).items()),
        CompetenceDecision.objects.filter(student=student).count(),
        *_rules(student.academy),
        catalogue_words(),
    )


def _rules(academy: Academy) -> Facts:
    return (
        CompetenceRule.objects.filter(academy=academy).count(),
        MasteryRule.objects.filter(academy=academy).count(),
        ParameterVersion.objects.filter(academy=academy).count(),
        BriefVersion.objects.filter(brief__academy=academy).count(),
    )
