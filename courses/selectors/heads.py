from datetime import date

from django.db.models import Count, F, Q, QuerySet

from academy.errors import NotHere
from academy.models import Academy
from courses.models import Head

# States of the floor above, named as text because this floor does not look up.
IN_USE = ("ready", "working", "paused", "finished")
DONE = ("finished", "inspected", "graded")


def heads(academy: Academy) -> QuerySet[Head]:
    """Heads not retired, each with ``sets_on_strip`` done and ``open_sets`` that hold it; one query."""
    on_this_strip = Q(practice_sets__state__in=DONE, practice_sets__strip_fitted_on=F("strip_fitted_on"))
    return Head.objects.filter(academy=academy, retired_at=None).annotate(
        sets_on_strip=Count("practice_sets", filter=on_this_strip),
        open_sets=Count("practice_sets", filter=Q(practice_sets__state__in=IN_USE)),
    )


def head(academy: Academy, head_id: int) -> Head:
    found = heads(academy).filter(pk=head_id).first()
    if found is None:
        raise NotHere("head")
    return found


def is_in_use(head: Head) -> bool:
    """Whether a set holds this head; one query."""
    return head.practice_sets.filter(state__in=IN_USE).exists()


def strip_age_days(head: Head, today: date) -> int:
    return (today - head.strip_fitted_on).days
