from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from academy.errors import NotHere
from academy.models import Academy, Membership, Role
from courses.models import Enrolment, ProgrammeUnit, ProgrammeVersion, UnitSignOff
from courses.programme.differences import Difference
from courses.programme.differences import differences as differences_between
from courses.selectors.programmes import names, offered_versions


@dataclass(frozen=True, slots=True)
class UnitState:
    """One unit and what was said of it last, if anything."""

    unit: ProgrammeUnit
    sign_off: UnitSignOff | None

    @property
    def is_passed(self) -> bool:
        return self.sign_off is not None and self.sign_off.passed


def student(academy: Academy, student_id: int) -> Membership:
    """A student of this academy, also one who has left; a foreign or unknown id is NotHere."""
    found = (
        Membership.objects.filter(academy=academy, role=Role.STUDENT, pk=student_id)
        .select_related("user", "cohort", "academy")
        .first()
    )
    if found is None:
        raise NotHere("student")
    return found


def open_enrolment(student: Membership) -> Enrolment | None:
    """The programme version this student is on today, with its units; up to two queries."""
    return enrolments_of(student).filter(ended_at=None).first()


def enrolments_of(student: Membership) -> QuerySet[Enrolment]:
    """All of this student's enrolments, newest first, with units; two queries."""
    units = Prefetch("version__units", ProgrammeUnit.objects.order_by("position"))
    return (
        Enrolment.objects.filter(student=student)
        .select_related("version__programme", "student__user")
        .prefetch_related(units)
    )


def shown_enrolment(student: Membership) -> Enrolment | None:
    """The open one, else the last; up to two queries."""
    return max(
        enrolments_of(student), key=lambda each: (each.ended_at is None, each.enrolled_at), default=None
    )


def the_open_enrolment(student: Membership) -> Enrolment:
    found = open_enrolment(student)
    if found is None:
        raise NotHere("open enrolment")
    return found


def unit_states(enrolment: Enrolment, version: ProgrammeVersion | None = None) -> list[UnitState]:
    """Units of the enrolment's version, or of another one, in order; one query, two without prefetched units.

    A unit is known by its code, so what was signed off before a move to a newer version still counts.
    """
    newest = newest_sign_offs(enrolment)
    units = (version or enrolment.version).units.all()
    return [UnitState(unit, newest.get(unit.code)) for unit in units]


def newest_sign_offs(enrolment: Enrolment) -> Mapping[str, UnitSignOff]:
    """By the code of the unit; one query."""
    rows = enrolment.sign_offs.select_related("unit", "signed_by__user").order_by("id")
    return {row.unit.code: row for row in rows}


def sign_off_history(enrolment: Enrolment) -> QuerySet[UnitSignOff]:
    """Every sign-off, newest first; one query."""
    return enrolment.sign_offs.select_related("unit", "signed_by__user")


def newer_versions(enrolment: Enrolment) -> list[ProgrammeVersion]:
    """What this student may be moved to: the newest published version of her programme, if it is not hers."""
    academy = enrolment.student.academy
    same = offered_versions(academy).filter(programme=enrolment.version.programme_id)
    return list(same.filter(number__gt=enrolment.version.number))


def newer_version(enrolment: Enrolment, version_id: int) -> ProgrammeVersion:
    found = next((each for each in newer_versions(enrolment) if each.pk == version_id), None)
    if found is None:
        raise NotHere("newer version of this programme")
    return found


def differences(old: ProgrammeVersion, new: ProgrammeVersion) -> tuple[Difference, ...]:
    """What changes from one version to the other, in words; one query, three without prefetched units."""
    return differences_between(old.content, new.content, names())


def dropped(enrolment: Enrolment, version: ProgrammeVersion) -> list[UnitState]:
    """Units signed off on the enrolment's version that the other one does not have."""
    kept = _codes(version.units.all())
    return [each for each in unit_states(enrolment) if each.sign_off and each.unit.code not in kept]


def _codes(units: Iterable[ProgrammeUnit]) -> set[str]:
    return {unit.code for unit in units}
