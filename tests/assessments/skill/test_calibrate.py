from dataclasses import replace

import numpy as np
import pytest

from assessments.skill.calibrate import (
    calibrated,
    calibration_sample,
    educator_groups,
    linkage_notes,
    refitted,
)
from assessments.skill.interface import SkillInputError
from tests.bench.simulators import model_like
from tests.bench.simulators.school import start_parameters

SCHOOL = model_like.simulate(np.random.default_rng(11), students=240, sets=8, educators=5)
START = start_parameters()
FOUND = calibrated(SCHOOL.table, START, version="2")
ALL = np.arange(len(SCHOOL.table.day))


def severities(parameters, codes=SCHOOL.table.educators):
    return np.array([parameters.educators[code].value for code in codes])


def rows(table, chosen):
    fields = ("student", "day", "educator", "brief", "levels", "faults", "inspected")
    return replace(table, **{name: getattr(table, name)[chosen] for name in fields})


def test_severities_are_those_that_drew_the_marks_within_their_errors():
    """Planted severities (simulated students who share educators). 4 errors: five educators, a Bonferroni
    5 % bound would be 2.6; the rest is room for the simulator's other curve of counted levels."""
    error = np.sqrt([FOUND.educators[code].variance for code in SCHOOL.table.educators])
    assert np.abs((severities(FOUND) - SCHOOL.severity) / error).max() < 4
    assert (error < 0.08).all()


def test_severities_and_difficulties_sum_to_zero():
    assert severities(FOUND).sum() == pytest.approx(0, abs=1e-9)
    assert sum(facet.value for facet in FOUND.briefs.values()) == pytest.approx(0, abs=1e-9)
    assert FOUND.version == "2"


def test_a_new_name_for_each_educator_changes_no_severity():
    table = SCHOOL.table
    turned = replace(table, educator=4 - table.educator, educators=table.educators[::-1])
    assert severities(calibrated(turned, START, version="2")) == pytest.approx(severities(FOUND), abs=1e-3)


def test_one_educator_alone_has_no_severity_and_a_sentence_says_so():
    alone = rows(SCHOOL.table, SCHOOL.table.educator == 2)
    found = calibrated(alone, START, version="2")
    assert (found.educators["e2"].value, found.educators["e2"].variance) == (0.0, pytest.approx(0, abs=1e-12))
    assert set(found.educators) == {"e2"}
    assert found.notes == ("Only one educator has marked: severity cannot be separated from skill.",)


def test_educators_without_a_student_in_common_are_told_apart_in_a_sentence():
    table = SCHOOL.table
    split = rows(table, (table.student % 2 == 0) == (table.educator < 2))
    groups = educator_groups(split)
    assert groups[0] == groups[1] != groups[2] == groups[3] == groups[4]
    (note,) = linkage_notes(split)
    assert "fall into 2 groups with no student in common" in note
    assert linkage_notes(table) == ()


def test_few_marks_make_a_severity_provisional():
    table = SCHOOL.table
    rare = rows(table, (table.educator != 4) | (np.cumsum(table.educator == 4) <= 2))
    assert "1 of 5 educators have given fewer than 30 marks" in linkage_notes(rare)[0]


def test_someone_not_in_the_table_keeps_what_is_known():
    start = replace(START, educators={"gone": FOUND.educators["e0"]})
    assert calibrated(SCHOOL.table, start, version="2").educators["gone"] == FOUND.educators["e0"]


def test_a_criterion_nobody_used_keeps_its_place():
    levels = SCHOOL.table.levels.copy()
    levels[:, 9] = -1
    start = replace(START, criteria=(*START.criteria[:9], replace(START.criteria[9], offset=0.0)))
    found = calibrated(replace(SCHOOL.table, levels=levels), start, version="2")
    others = [item.offset for item in found.criteria if item.count is None]
    assert sum(others) == pytest.approx(0, abs=1e-6)
    assert np.isfinite(found.criteria[9].offset)


def test_all_marks_equal_give_finite_parameters():
    levels = np.where(SCHOOL.table.levels >= 0, 4, -1).astype(np.int8)
    empty = np.zeros_like(SCHOOL.table.faults)
    found = calibrated(
        replace(SCHOOL.table, levels=levels, faults=empty, inspected=empty), START, version="2"
    )
    assert np.isfinite([*found.thresholds, *severities(found), found.dynamics.start]).all()


def test_no_marks_leave_the_parameters_and_say_so():
    found = calibrated(rows(SCHOOL.table, ALL < 0), START, version="9")
    assert (found.notes, found.thresholds, found.version) == (("No graded sets yet.",), START.thresholds, "9")


def test_a_table_of_other_criteria_is_refused():
    with pytest.raises(SkillInputError, match="Build the table from the parameters"):
        calibrated(replace(SCHOOL.table, levels=SCHOOL.table.levels[:, :3]), START, version="2")


def test_the_sample_covers_every_educator_and_brief_and_keeps_to_its_limit():
    table = SCHOOL.table
    rare = rows(table, (table.educator != 4) | (table.student < 3))
    sample = calibration_sample(rare, np.random.default_rng(5), limit=60)
    assert set(sample.educator) == set(range(5))
    assert set(sample.brief) == set(rare.brief)
    assert np.count_nonzero(sample.educator == 4) == np.count_nonzero(rare.educator == 4)
    assert 60 <= sample.students <= 80


def test_too_few_students_leave_the_spreads_alone():
    few = SCHOOL.table.of_students(np.arange(50))
    found = refitted(few, START, np.random.default_rng(1), version="3")
    assert found.dynamics.step_own == START.dynamics.step_own
    assert found.thresholds != START.thresholds
