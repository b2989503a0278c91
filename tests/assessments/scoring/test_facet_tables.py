"""The counting behind the facet model: groups, pairs and moments against plain loops."""

import numpy as np
import pytest

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.facet_tables import chances, gathered, moments

STEPS = np.array([-1.8, -0.6, 0.6, 1.8])


def tables_of(rows, criteria=2, cells=4):
    work, cell, level = (np.array(column, dtype=np.int64) for column in zip(*rows, strict=True))
    return gathered(work, cell, level, criteria=criteria, cells=cells, levels=5)


def test_sets_with_the_same_cells_and_sum_are_one_case_and_others_are_not():
    tables = tables_of(
        [(0, 0, 3), (0, 1, 1), (1, 0, 2), (1, 1, 2), (2, 0, 3), (2, 2, 1), (3, 0, 3), (3, 1, 2)]
    )
    group = tables.work_group
    assert group[0] == group[1]
    assert len({group[0], group[2], group[3]}) == 3
    assert tables.times[group[0]] == 2
    assert tables.share[group[0]] == 4 / 8


def test_counts_add_up_to_the_marks_by_level_educator_and_criterion():
    rng = np.random.default_rng(1)
    rows = [
        (work, cell, int(rng.integers(5))) for work in range(30) for cell in range(60) if rng.random() < 0.4
    ]
    tables = tables_of(rows, criteria=10, cells=60)
    table = np.zeros((6, 10, 5))
    for _, cell, level in rows:
        table[cell // 10, cell % 10, level] += 1
    found = np.zeros_like(table)
    np.add.at(found, (tables.educator, tables.criterion), tables.counts.T)
    assert (found == table).all()
    assert tables.reached == pytest.approx([(table[..., step:]).sum() for step in range(1, 5)])
    assert (tables.counts.sum(axis=0) == tables.weight).all()


def test_a_mark_given_twice_is_refused_in_any_part_of_a_wide_table():
    for cell in (0, 51, 52, 59):
        with pytest.raises(ScoringInputError, match="twice"):
            tables_of([(0, cell, 1), (0, cell, 1), (1, 3, 2)], criteria=10, cells=60)


def test_moments_are_those_of_the_rating_scale_model_by_direct_summation():
    place, height = np.array([-3.0, 0.4, 2.2]), np.arange(5)
    found = moments(place, STEPS)
    for column, eta in enumerate(place):
        weight = np.exp(height * eta - np.concatenate([[0], np.cumsum(STEPS)]))
        chance = weight / weight.sum()
        mean = (chance * height).sum()
        reached = (height[None] >= np.arange(1, 5)[:, None]).astype(float)
        above = reached @ chance
        assert found.mean[column] == pytest.approx(mean)
        assert found.variance[column] == pytest.approx((chance * (height - mean) ** 2).sum())
        assert found.third[column] == pytest.approx((chance * (height - mean) ** 3).sum())
        assert found.above[:, column] == pytest.approx(above)
        assert found.above_cov[:, column] == pytest.approx(
            ((reached - above[:, None]) * (height - mean) * chance).sum(axis=1)
        )
        assert found.above_third[:, column] == pytest.approx(
            ((reached - above[:, None]) * (height - mean) ** 2 * chance).sum(axis=1)
        )


def test_places_far_off_the_scale_stay_finite():
    found = chances(np.array([-900.0, 900.0]), STEPS)
    assert np.isfinite(found).all()
    assert found[0, 0] == pytest.approx(1)
    assert found[4, 1] == pytest.approx(1)
