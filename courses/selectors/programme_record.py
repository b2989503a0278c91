from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet

from courses.models import Enrolment, EnrolmentMove, HoursKind, ProgrammeVersion
from courses.selectors.enrolments import UnitState, unit_states
from courses.selectors.hours import LedgerLine, hours_total, ledger, minutes_of, theory_minutes


@dataclass(frozen=True, slots=True)
class HoursProgress:
    """Minutes attended of those that the version asks for."""

    name: str
    minutes: int
    asked: int

    @property
    def left(self) -> int:
        return max(0, self.asked - self.minutes)


@dataclass(frozen=True, slots=True)
class ProgrammeRecord:
    """All that is kept of one enrolment; ``kinds`` as (words, minutes) of those that were entered."""

    enrolment: Enrolment
    units: list[UnitState]
    progress: tuple[HoursProgress, ...]
    kinds: list[tuple[str, int]]
    ledger: list[LedgerLine]
    moves: QuerySet[EnrolmentMove]

    @property
    def passed(self) -> int:
        return sum(state.is_passed for state in self.units)

    @property
    def before_live_missing(self) -> int:
        return sum(state.unit.before_live and not state.is_passed for state in self.units)


def programme_record(enrolment: Enrolment) -> ProgrammeRecord:
    """Four queries, five without prefetched units."""
    total = hours_total(enrolment)
    return ProgrammeRecord(
        enrolment=enrolment,
        units=unit_states(enrolment),
        progress=hours_progress(total, enrolment.version),
        kinds=[(label, total[kind]) for kind, label in HoursKind.choices if total[kind]],
        ledger=ledger(enrolment),
        moves=enrolment.moves.select_related("from_version", "to_version", "moved_by__user"),
    )


def hours_progress(total: dict[str, int], version: ProgrammeVersion) -> tuple[HoursProgress, ...]:
    """Online hours and field trips count as theory. The clock of practice sets is not known on this floor."""
    return (
        _progress("Theory", theory_minutes(total), version.theory_hours),
        _progress("Practical", total[HoursKind.PRACTICAL], version.practical_hours),
    )


def _progress(name: str, minutes: int, hours: Decimal | None) -> HoursProgress:
    return HoursProgress(name, minutes, minutes_of(hours))
