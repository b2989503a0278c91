from dataclasses import replace

import numpy as np
import pytest

from assessments.skill.interface import SkillInputError
from assessments.skill.observations import Grading, SetRecord, StudentRecord
from assessments.skill.table import mark_table, panels, set_order

TWICE = SetRecord(9.0, "b", (Grading("ines", {"x": 1}), Grading("tova", {"x": 2}, {"y": (1, 40)})))
RECORDS = [
    StudentRecord((SetRecord(3.0, "a", (Grading("tova", {"x": 4, "y": 0}),)),)),
    StudentRecord(()),
    StudentRecord((TWICE, SetRecord(2.0, "a", (Grading("ines", {"y": 3}),)))),
]
TABLE = mark_table(RECORDS, ("x", "y"))


def test_a_mark_that_is_missing_is_not_a_level_of_0():
    assert TABLE.levels.tolist() == [[4, 0], [1, -1], [2, -1], [-1, 3]]
    assert (TABLE.faults[2].tolist(), TABLE.inspected[2].tolist()) == ([0, 1], [0, 40])
    assert TABLE.educators == ("tova", "ines")


def test_sets_are_numbered_by_day_and_a_second_mark_is_the_same_set():
    order = set_order(TABLE)
    assert order.rows.tolist() == [0, 3, 1, 2]
    assert order.number.tolist() == [0, 0, 1, 1]
    assert order.slot.tolist() == [0, 0, 0, 1]
    assert order.sets.tolist() == [1, 0, 2]


def test_panels_list_those_with_most_sets_first_and_leave_out_those_with_none():
    (panel,) = panels(TABLE, 10)
    assert panel.students.tolist() == [2, 0]
    assert panel.active.tolist() == [2, 1]
    assert [rows.tolist() for rows in panel.rows] == [[3, 0], [1]]
    assert [(columns.tolist(), rows.tolist()) for columns, rows in panel.extra[1]] == [([0], [2])]


def test_every_grading_is_in_exactly_one_place_of_one_panel():
    rng = np.random.default_rng(1)
    records = [
        StudentRecord(tuple(SetRecord(float(day), "a", TWICE.gradings[: 1 + day % 2]) for day in range(n)))
        for n in rng.integers(0, 6, 30)
    ]
    table = mark_table(records, ("x", "y"))
    rows = [row for panel in panels(table, 4) for line in panel.rows for row in line]
    rows += [row for panel in panels(table, 4) for extra in panel.extra for _, more in extra for row in more]
    assert sorted(rows) == list(range(len(table.day)))


def test_some_students_can_be_taken_out_and_are_numbered_anew():
    part = TABLE.of_students(np.array([2, 1]))
    assert part.students == 2
    assert part.student.tolist() == [0, 0, 0]
    assert part.levels.tolist() == [[1, -1], [2, -1], [-1, 3]]


def test_an_empty_school_has_no_panels():
    assert list(panels(mark_table([StudentRecord(())], ("x",)), 8)) == []


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"levels": np.full((4, 2), 5, dtype=np.int8)}, "level_out_of_range"),
        ({"faults": np.full((4, 2), 50, dtype=np.int16)}, "faults_exceed_inspected"),
        ({"day": np.full(4, np.nan)}, "bad_day"),
    ],
)
def test_marks_that_cannot_be_are_refused(change, code):
    with pytest.raises(SkillInputError) as refusal:
        replace(TABLE, **change)
    assert refusal.value.code == code
