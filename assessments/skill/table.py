"""Marks of many students as a struct of arrays, one row a grading, and their order into blocks of equals."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assessments.skill.interface import TOP_LEVEL, SkillInputError
from assessments.skill.observations import StudentRecord

Ints = npt.NDArray[np.integer]
MISSING = -1


@dataclass(frozen=True, slots=True)
class MarkTable:
    """G gradings of S students on C criteria, in any order.

    `student`, `educator`, `brief`: (G,) places, the last two in `educators` and `briefs`; `day`: (G,).
    `levels`: (G, C) int8, -1 where not marked. `faults`, `inspected`: (G, C) int16, `inspected` 0 where not
    counted; (G, 0) when nothing is counted at all. Gradings of one student on one day instant are one set.
    """

    students: int
    student: Ints
    day: npt.NDArray[np.float64]
    educator: Ints
    brief: Ints
    levels: Ints
    faults: Ints
    inspected: Ints
    educators: tuple[str, ...]
    briefs: tuple[str, ...]

    def __post_init__(self) -> None:
        if self.levels.size and not MISSING <= self.levels.min() <= self.levels.max() <= TOP_LEVEL:
            raise SkillInputError(
                "level_out_of_range", "A level is not on the scale. Give whole levels from 0 to 4."
            )
        if self.faults.size and (self.faults.min() < 0 or (self.faults > self.inspected).any()):
            raise SkillInputError(
                "faults_exceed_inspected", "More faults are recorded than fans inspected. Check the ticks."
            )
        if not np.isfinite(self.day).all():
            raise SkillInputError("bad_day", "A set has no valid date. Correct the date of the set.")

    @property
    def has_counts(self) -> bool:
        return bool(self.inspected.size) and bool(self.inspected.any())

    def of_students(self, chosen: Ints) -> "MarkTable":
        """The gradings of the `chosen` students only, who are numbered anew in the order given."""
        place = np.full(self.students, MISSING)
        place[chosen] = np.arange(len(chosen))
        rows = np.flatnonzero(place[self.student] >= 0)
        return MarkTable(
            len(chosen),
            place[self.student[rows]],
            self.day[rows],
            self.educator[rows],
            self.brief[rows],
            self.levels[rows],
            self.faults[rows],
            self.inspected[rows],
            self.educators,
            self.briefs,
        )


def mark_table(records: Sequence[StudentRecord], criteria: Sequence[str]) -> MarkTable:
    """The table of whole records, students in the order given. Raises KeyError for a criterion not listed."""
    place = {code: index for index, code in enumerate(criteria)}
    rows = [
        (student, one, grading)
        for student, record in enumerate(records)
        for one in record.sets
        for grading in one.gradings
    ]
    educators, educator = _numbered(grading.educator for _, _, grading in rows)
    briefs, brief = _numbered(one.brief for _, one, _ in rows)
    levels = np.full((len(rows), len(criteria)), MISSING, dtype=np.int8)
    faults = np.zeros((len(rows), len(criteria)), dtype=np.int16)
    inspected = np.zeros_like(faults)
    for row, (_, _, grading) in enumerate(rows):
        for code, level in grading.levels.items():
            levels[row, place[code]] = level
        for code, count in grading.counts.items():
            faults[row, place[code]], inspected[row, place[code]] = count
    student = np.array([row[0] for row in rows], dtype=np.intp)
    day = np.array([row[1].day for row in rows], dtype=float)
    return MarkTable(
        len(records), student, day, educator, brief, levels, faults, inspected, educators, briefs
    )


def _numbered(codes: Iterable[str]) -> tuple[tuple[str, ...], Ints]:
    places: dict[str, int] = {}
    numbers = [places.setdefault(code, len(places)) for code in codes]
    return tuple(places), np.array(numbers, dtype=np.intp)


@dataclass(frozen=True, slots=True)
class SetOrder:
    """Gradings in order of student, day: `rows` into the table, with the set's number within the student
    (`number`, from 0) and the grading's within the set (`slot`); `sets`: (S,) sets of each student."""

    rows: Ints
    number: Ints
    slot: Ints
    sets: Ints


def set_order(table: MarkTable) -> SetOrder:
    """One sort, or none when the table is in order already."""
    student, day = table.student, table.day
    rows: Ints = np.arange(len(day))
    later = (student[1:] > student[:-1]) | ((student[1:] == student[:-1]) & (day[1:] >= day[:-1]))
    if not later.all():
        rows = np.lexsort((day, student))
        student, day = student[rows], day[rows]
    new_student = np.append(True, student[1:] != student[:-1])[: len(day)]
    new_set = new_student | np.append(True, day[1:] != day[:-1])[: len(day)]
    ordinal = np.cumsum(new_set) - 1
    number = ordinal - np.maximum.accumulate(np.where(new_student, ordinal, 0))
    place = np.arange(len(day))
    slot = place - np.maximum.accumulate(np.where(new_set, place, 0))
    sets = np.bincount(student[new_set], minlength=table.students)
    return SetOrder(rows, number, slot, sets)


@dataclass(frozen=True, slots=True)
class Panel:
    """Some students side by side, those with most sets first, so that at set t the first
    `active[t]` take part.

    `students`: (B,) places in the table. `rows[t]`: (active[t],) the first grading of set t of each.
    `extra[t]`: further gradings of set t as (columns, rows), one pair for each slot.
    """

    students: Ints
    active: Ints
    rows: list[Ints]
    extra: list[list[tuple[Ints, Ints]]]


def panels(table: MarkTable, block: int) -> Iterator[Panel]:
    """Every student who has a set, `block` at a time, most sets first."""
    order = set_order(table)
    ranked = np.argsort(-order.sets, kind="stable")
    ranked = ranked[: np.count_nonzero(order.sets)]
    ends = np.cumsum(np.bincount(table.student, minlength=table.students))
    starts = np.append(0, ends[:-1])
    for first in range(0, len(ranked), block):
        chosen = ranked[first : first + block]
        yield _panel(chosen, order, starts[chosen], ends[chosen])


def _panel(chosen: Ints, order: SetOrder, starts: Ints, ends: Ints) -> Panel:
    lengths = ends - starts
    column = np.repeat(np.arange(len(chosen)), lengths)
    shift = np.append(0, np.cumsum(lengths)[:-1])
    at = np.arange(len(column)) - shift[column] + starts[column]
    number, slot, rows = order.number[at], order.slot[at], order.rows[at]
    sets = order.sets[chosen]
    main = np.full((sets[0], len(chosen)), MISSING)
    first = slot == 0
    main[number[first], column[first]] = rows[first]
    active = np.count_nonzero(main >= 0, axis=1)
    extra: list[list[tuple[Ints, Ints]]] = [[] for _ in active]
    for deep in range(1, int(slot.max()) + 1):
        for t in np.unique(number[slot == deep]):
            pick = (slot == deep) & (number == t)
            extra[t].append((column[pick], rows[pick]))
    return Panel(chosen, active, [line[:n] for line, n in zip(main, active, strict=True)], extra)
