from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F, Prefetch, QuerySet
from django.utils.timezone import localtime

from academy.errors import NotHere
from academy.models import Academy, Membership, Role
from academy.selectors.people import students
from courses.models import Enrolment, ProgrammeUnit, ProgrammeVersion, UnitSignOff
from courses.programme.differences import Difference
from courses.programme.differences import differences as differences_between
from courses.programme.sheet import day_words
from courses.selectors.programmes import names, offered_versions


@dataclass(frozen=True, slots=True)
class UnitState:
    """One unit, what was said of it last, if anything, and before that, newest first."""

    unit: ProgrammeUnit
    sign_off: UnitSignOff | None = None
    earlier: tuple[UnitSignOff, ...] = ()

    @property
    def is_passed(self) -> bool:
        return self.sign_off is not None and self.sign_off.passed

    @property
    def words(self) -> str:
        """``passed on 3 March 2026, Ines Carvalho``, on the day it was here."""
        if self.sign_off is None:
            return "not signed off yet"
        said = "passed" if self.sign_off.passed else "not passed yet"
        return f"{said}, {day_words(localtime(self.sign_off.at).date())}, {self.sign_off.signed_by.name}"


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


def current_of(enrolments: Sequence[Enrolment]) -> Enrolment | None:
    """The open one, else the newest; ``enrolments`` newest first."""
    return next((each for each in enrolments if each.ended_at is None), enrolments[0] if enrolments else None)


def students_on(version: ProgrammeVersion) -> QuerySet[Enrolment]:
    """Open enrolments of current students on this version, by cohort and name; one query."""
    return (
        Enrolment.objects.filter(version=version, ended_at=None, student__left_at=None)
        .select_related("student__user", "student__cohort")
        .order_by(F("student__cohort__starts_on").desc(nulls_last=True), "student__user__name", "id")
    )


def enrolled_students(academy: Academy) -> QuerySet[Membership]:
    """Current students on a programme, by cohort and name; one query."""
    return (
        students(academy)
        .filter(enrolments__ended_at=None, enrolments__isnull=False)
        .order_by(F("cohort__starts_on").desc(nulls_last=True), "user__name", "id")
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
    said: dict[str, list[UnitSignOff]] = {}
    for row in enrolment.sign_offs.select_related("unit", "signed_by__user"):  # newest first
        said.setdefault(row.unit.code, []).append(row)
    units = (version or enrolment.version).units.all()
    return [_state(unit, said.get(unit.code, [])) for unit in units]


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
    """Units signed off on the enrolment's version that the other one does not have; up to two queries."""
    kept = {unit.code for unit in version.units.all()}
    return [each for each in unit_states(enrolment) if each.sign_off and each.unit.code not in kept]


def _state(unit: ProgrammeUnit, said: Sequence[UnitSignOff]) -> UnitState:
    return UnitState(unit, said[0], tuple(said[1:])) if said else UnitState(unit)
