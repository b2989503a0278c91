from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from academy.errors import DomainError, NotHere
from academy.jobs import enqueue
from academy.models import Membership
from academy.services import audit
from courses.models import Enrolment, ProgrammeUnit, UnitSignOff
from courses.services.enrolments import locked_enrolment


class NoUnitChosen(DomainError):
    def __init__(self) -> None:
        super().__init__("no_unit_chosen", "Tick at least one unit to sign off.", field="units")


class NotPassedWithoutNote(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "not_passed_without_note", "Write what is still missing, so that the student knows.", field="note"
        )


@transaction.atomic
def sign_off(
    *,
    enrolment: Enrolment,
    units: Sequence[ProgrammeUnit],
    passed: bool,
    note: str = "",
    actor: Membership,
    now: datetime,
) -> list[UnitSignOff]:
    """What the educator says of these units from now on; what was said before stays readable."""
    row = locked_enrolment(enrolment)
    if not units:
        raise NoUnitChosen
    if any(unit.version_id != row.version_id for unit in units):
        raise NotHere("unit of this student's programme version")
    if not passed and not note.strip():
        raise NotPassedWithoutNote
    signed = UnitSignOff.objects.bulk_create(
        UnitSignOff(enrolment=row, unit=unit, passed=passed, note=note.strip(), signed_by=actor, at=now)
        for unit in units
    )
    after = {"units": [unit.code for unit in units], "passed": passed}
    audit.record(actor, "sign_off", row, now=now, after=after)
    enqueue("assessments.tasks.watch_gate", student_id=row.student_id)
    return signed
