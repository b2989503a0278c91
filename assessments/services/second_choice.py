"""Which sets get a blind second mark: the rate, the draw when marks are signed, and waiving."""

from datetime import datetime

from django.db import transaction

from academy.errors import Conflict, DomainError
from academy.models import Membership
from academy.services.audit import record
from assessments.models import Grade, SecondMark, SecondMarkRate
from assessments.scoring.second_marks import choose_marker, is_chosen
from assessments.selectors.second_marks import locked_second_mark, rate_of, second_mark_loads
from assessments.selectors.sets import reused_since
from assessments.services.inspections import draw_second_look

MAX_ONE_IN = 100
MAX_REASON = 500
HEAD_REUSED = "The head carried another set before these marks were signed."


class RateOutOfRange(DomainError):
    def __init__(self, one_in: int) -> None:
        super().__init__(
            "rate_out_of_range",
            f"One set in {one_in} cannot be. Give a whole number from 1 to {MAX_ONE_IN}, or 0 for none.",
            field="one_in",
        )


@transaction.atomic
def change_rate(*, actor: Membership, one_in: int, seed: str, now: datetime) -> SecondMarkRate:
    """From now on one signed set in ``one_in`` gets a second mark, none at 0. The secret is kept once set."""
    if not 0 <= one_in <= MAX_ONE_IN:
        raise RateOutOfRange(one_in)
    rate = rate_of(actor.academy)
    before = rate.one_in if rate else 0
    if rate is None:
        rate = SecondMarkRate(academy=actor.academy, seed=seed)
    rate.one_in, rate.changed_at = one_in, now
    rate.save()
    if one_in != before:
        record(
            actor,
            "change_second_mark_rate",
            rate,
            now=now,
            before={"one_in": before},
            after={"one_in": one_in},
        )
    return rate


@transaction.atomic(savepoint=False)
def choose_second_mark(*, grade: Grade, now: datetime) -> SecondMark | None:
    """Let the draw decide about a set just signed; None when it is not chosen or nobody else can mark it.

    Neither who signed nor who inspected first can be the second.
    """
    practice_set = grade.practice_set
    second = _second_marker(grade)
    if second is None:
        return None
    second_mark = SecondMark.objects.create(
        practice_set=practice_set,
        inspection=draw_second_look(first=grade.inspection, inspector=second, now=now),
        assigned_to=second,
        chosen_at=now,
    )
    after = {"practice_set": practice_set.pk, "assigned_to": second.pk}
    record(grade.signed_by, "choose_second_mark", second_mark, now=now, after=after)
    if reused_since(practice_set):  # kept and counted, so that nobody can steer by clearing heads early
        actor = grade.signed_by
        return waive_second_mark(actor=actor, second_mark=second_mark, reason=HEAD_REUSED, now=now)
    return second_mark


def _second_marker(grade: Grade) -> Membership | None:
    academy, uid = grade.practice_set.academy, str(grade.practice_set.uid)
    rate = rate_of(academy)
    if rate is None or not rate.one_in or not is_chosen(uid, rate=1 / rate.one_in, seed=rate.seed):
        return None
    loads = second_mark_loads(academy, {grade.signed_by_id, grade.inspection.inspector_id})
    by_key = {str(member.pk): member for member in loads}
    waiting = {str(member.pk): count for member, count in loads.items()}
    first = str(grade.signed_by_id)
    found = choose_marker(uid, first_marker=first, waiting=waiting, seed=rate.seed)
    return by_key[found.marker] if found.marker else None


@transaction.atomic
def waive_second_mark(
    *, actor: Membership, second_mark: SecondMark, reason: str, now: datetime
) -> SecondMark:
    """Nobody marks this set a second time; the reason stays beside it."""
    held = locked_second_mark(second_mark)
    why = reason.strip()[:MAX_REASON]
    if not why:
        raise DomainError("no_reason", "Say in a few words why nobody marks it again.", field="reason")
    if held.state != SecondMark.State.OPEN:
        raise Conflict("second_mark_closed", "This second mark is no longer waiting. Reload the page.")
    held.state, held.reason, held.closed_at = SecondMark.State.WAIVED, why, now
    held.save(update_fields=["state", "reason", "closed_at"])
    record(actor, "waive_second_mark", held, now=now, reason=why)
    return held
