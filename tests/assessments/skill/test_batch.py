import numpy as np
import pytest

from assessments.skill.arrays import parameter_arrays
from assessments.skill.batch import filter_table
from assessments.skill.filter import beliefs_after_each_set, first_belief
from assessments.skill.table import mark_table
from tests.assessments.skill.schools import CRITERIA, PARAMETERS, ragged_records, rng

ARRAYS = parameter_arrays(PARAMETERS)
CODES = [criterion.code for criterion in CRITERIA]


@pytest.mark.parametrize("block", [4, 64])
def test_many_students_at_once_are_each_filtered_as_alone(block):
    """Oracle: the filter of one student, in 64-bit floats, written apart (CALC)."""
    records = ragged_records(rng())
    beliefs = filter_table(mark_table(records, CODES), ARRAYS, block=block)
    for place, record in enumerate(records):
        sets = record.until(1e9)
        alone = beliefs_after_each_set(sets, ARRAYS)[-1] if sets else first_belief(ARRAYS)
        assert beliefs.mean[place] == pytest.approx(alone.mean, abs=2e-5)
        assert beliefs.covariance[place] == pytest.approx(alone.covariance, abs=2e-5)
        assert beliefs.lean[place] == pytest.approx(alone.lean, abs=2e-5)
        assert (beliefs.sets[place], beliefs.day[place]) == (alone.sets, pytest.approx(alone.day))


def test_the_order_in_which_students_and_marks_are_stored_does_not_matter():
    table = mark_table(ragged_records(rng(2)), CODES)
    mixed_up = rng(3).permutation(table.students)
    straight, turned = filter_table(table, ARRAYS), filter_table(table.of_students(mixed_up), ARRAYS)
    assert turned.mean == pytest.approx(straight.mean[mixed_up], abs=1e-5)


def test_a_school_without_marks_has_beginners_only():
    beliefs = filter_table(mark_table([], CODES), ARRAYS)
    assert beliefs.mean.shape == (0, 5)
    assert np.isfinite(filter_table(mark_table(ragged_records(rng(), 1)[:0], CODES), ARRAYS).mean).all()
