"""Standard sets: an exercise for educators. Nothing here writes to the marks of the student."""

from collections.abc import Mapping
from datetime import datetime

from django.db import IntegrityError, transaction

from academy.errors import Conflict, DomainError
from academy.models import Membership
from academy.services.audit import record
from assessments.models import (
    DiscussionNote,
    PracticeSet,
    SecondMark,
    StandardLevel,
    StandardMark,
    StandardSet,
)
from assessments.selectors.grades import grade_of
from assessments.selectors.standard_sets import criteria_to_mark
from assessments.services.second_marks import note_text

MAX_WHY = 300


@transaction.atomic
def choose_standard_set(
    *, actor: Membership, practice_set: PracticeSet, why: str, now: datetime
) -> StandardSet:
    """Offer one graded set to all educators; asked twice it answers the one made the first time."""
    grade = grade_of(practice_set)
    if grade is None:
        raise Conflict("not_graded", "Only a set with signed marks can be a standard set. Sign them first.")
    if SecondMark.objects.filter(practice_set=practice_set, state=SecondMark.State.OPEN).exists():
        raise Conflict(
            "waits_for_second_mark",
            "This set waits for a blind second mark. Choose another, or come back when it is signed.",
        )
    standard, is_new = StandardSet.objects.get_or_create(
        grade=grade,
        defaults={
            "academy": practice_set.academy,
            "chosen_by": actor,
            "why": why.strip()[:MAX_WHY],
            "chosen_at": now,
        },
    )
    if is_new:
        record(actor, "choose_standard_set", standard, now=now, after={"practice_set": practice_set.pk})
    return standard


@transaction.atomic
def mark_standard_set(
    *, actor: Membership, standard: StandardSet, levels: Mapping[str, int], now: datetime
) -> StandardMark:
    """Keep what this educator gives, once; criteria she leaves out have no level."""
    if standard.closed_at is not None:
        raise Conflict("standard_set_closed", "This exercise is closed. Read what the others gave.")
    rows = {row.code: row for row in criteria_to_mark(standard)}
    known = {code: level for code, level in levels.items() if code in rows}
    if not known:
        raise DomainError("no_levels", "Choose a level on at least one criterion.")
    try:
        with transaction.atomic():
            mark = StandardMark.objects.create(standard_set=standard, educator=actor, signed_at=now)
    except IntegrityError as error:
        raise Conflict("already_marked", "You have marked this standard set already.") from error
    StandardLevel.objects.bulk_create(
        StandardLevel(mark=mark, criterion=rows[code], level=level) for code, level in known.items()
    )
    record(actor, "mark_standard_set", mark, now=now, after={"levels": known})
    return mark


@transaction.atomic
def close_standard_set(*, actor: Membership, standard: StandardSet, now: datetime) -> StandardSet:
    """Nobody marks it any more and all may read it. Doing it twice changes nothing."""
    held = StandardSet.objects.select_for_update().get(pk=standard.pk)
    if held.closed_at is None:
        held.closed_at = now
        held.save(update_fields=["closed_at"])
        record(actor, "close_standard_set", held, now=now)
    return held


@transaction.atomic
def note_on_standard_set(
    *, actor: Membership, standard: StandardSet, text: str, now: datetime
) -> DiscussionNote:
    """What the educators agreed about the differences; each note stays as written."""
    said = note_text(text)
    return DiscussionNote.objects.create(standard_set=standard, author=actor, text=said, at=now)
