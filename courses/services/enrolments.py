from collections.abc import Iterable
from datetime import datetime

from django.db import IntegrityError, transaction

from academy.errors import Conflict, DomainError, NotHere
from academy.jobs import enqueue
from academy.models import Membership, Role
from academy.services import audit
from courses.models import Enrolment, EnrolmentMove, ProgrammeVersion


class AlreadyEnrolled(Conflict):
    def __init__(self, student: Membership) -> None:
        super().__init__(
            "already_enrolled",
            f"{student.name} is already on a programme. "
            "End that enrolment first, or move it to a newer version.",
            student_id=student.pk,
        )


class VersionNotOffered(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "version_not_offered",
            "Nobody can be enrolled on this version: it is a draft, or its programme is retired. "
            "Choose a published one.",
            field="version",
        )


class EnrolmentEnded(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "enrolment_ended", "This enrolment has ended and is kept as it is. Enrol the student anew first."
        )


class NotANewerVersion(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "not_a_newer_version",
            "A student moves only to a newer published version of the same programme. Choose another.",
        )


class ReasonMissing(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "reason_missing", "Write why, in a few words. The reason stays with the record.", field="reason"
        )


@transaction.atomic
def enrol(*, student: Membership, version: ProgrammeVersion, actor: Membership, now: datetime) -> Enrolment:
    """The student follows ``version``, and no later one until she is moved."""
    if student.role != Role.STUDENT or not student.is_current:
        raise NotHere("student")
    if version.programme.academy_id != student.academy_id:
        raise NotHere("programme version")
    if not version.is_published or version.programme.retired_at:
        raise VersionNotOffered
    try:
        with transaction.atomic():
            enrolment = Enrolment.objects.create(student=student, version=version, enrolled_at=now)
    except IntegrityError as error:
        raise AlreadyEnrolled(student) from error
    audit.record(actor, "enrol", enrolment, now=now, after={"student": student.pk, "version": version.pk})
    enqueue("assessments.tasks.watch_gate", student_id=student.pk)
    return enrolment


@transaction.atomic
def enrol_students(
    *, students: Iterable[Membership], version: ProgrammeVersion, actor: Membership, now: datetime
) -> list[Enrolment]:
    """All of them or, when one cannot be, nobody."""
    return [enrol(student=each, version=version, actor=actor, now=now) for each in students]


@transaction.atomic
def move_enrolment(
    *, enrolment: Enrolment, version: ProgrammeVersion, reason: str, actor: Membership, now: datetime
) -> EnrolmentMove:
    """Pin the enrolment to a newer version; hours stay, and so do sign-offs of units it still has."""
    row = locked_enrolment(enrolment)
    if not reason.strip():
        raise ReasonMissing
    same = version.programme_id == row.version.programme_id
    if not (same and version.is_published and version.number > row.version.number):
        raise NotANewerVersion
    move = EnrolmentMove.objects.create(
        enrolment=row,
        from_version=row.version,
        to_version=version,
        reason=reason.strip(),
        moved_by=actor,
        at=now,
    )
    row.version = version
    row.save(update_fields=["version"])
    before, after = {"version": move.from_version_id}, {"version": move.to_version_id}
    audit.record(actor, "move_enrolment", row, now=now, reason=move.reason, before=before, after=after)
    enqueue("assessments.tasks.watch_gate", student_id=row.student_id)
    return move


@transaction.atomic
def end_enrolment(*, enrolment: Enrolment, reason: str, actor: Membership, now: datetime) -> Enrolment:
    """Hours and sign-offs stay as they are; nothing more is entered."""
    row = locked_enrolment(enrolment)
    if not reason.strip():
        raise ReasonMissing
    row.ended_at = now
    row.save(update_fields=["ended_at"])
    audit.record(actor, "end_enrolment", row, now=now, reason=reason.strip())
    enqueue("assessments.tasks.watch_gate", student_id=row.student_id)
    return row


def locked_enrolment(enrolment: Enrolment) -> Enrolment:
    """The open enrolment as it stands now, held to the end of this transaction; an ended one is refused."""
    # Locked without its joins: a row moved to another version while we waited would not be found by them.
    Enrolment.objects.select_for_update().get(pk=enrolment.pk)
    row = Enrolment.objects.select_related("version", "student__academy").get(pk=enrolment.pk)
    if row.ended_at is not None:
        raise EnrolmentEnded
    return row
