import numpy as np
import pytest

from assessments.skill.arrays import BAND_GRID, mixed, parameter_arrays
from assessments.skill.parameters import CountScale, Criterion, Facet, Parameters, Skill

ARRAYS = parameter_arrays(
    Parameters(
        "1",
        (Skill("isolation"), Skill("pace", is_speed=True), Skill("unused")),
        (
            Criterion("minutes", "pace", 0.5),
            Criterion("sticky", "isolation", count=CountScale(at_most=(0, 1, 2, 6))),
            Criterion("tidy", "isolation"),
        ),
        educators={"ines": Facet(0.4, 0.01)},
    )
)


def test_criteria_know_their_skill_and_skills_their_criteria():
    assert ARRAYS.skill_of.tolist() == [1, 0, 0]
    assert ARRAYS.of_skill(0).tolist() == [1, 2]
    assert ARRAYS.of_skill(2).tolist() == []
    assert ARRAYS.criterion_index["tidy"] == 2


def test_someone_not_listed_is_average_with_a_standard_deviation_of_half_a_logit():
    assert ARRAYS.severity("ines").value == 0.4
    assert (ARRAYS.severity("stranger").value, ARRAYS.severity("stranger").variance) == (0.0, 0.25)
    assert ARRAYS.difficulty("new brief").variance == 0.25


def test_speed_keeps_the_root_of_what_accuracy_keeps():
    """Twice the half-life: the square root of the retention (arithmetic)."""
    accuracy, speed, _ = np.exp(100 * ARRAYS.log_retention)
    assert speed == pytest.approx(np.sqrt(accuracy))


def test_bands_are_kept_for_counted_criteria_only_and_rise_with_ability():
    assert set(ARRAYS.bands) == {1}
    assert ARRAYS.bands[1].shape == BAND_GRID.shape
    assert (np.diff(ARRAYS.bands[1]) >= 0).all()


def test_mixed_covariance_has_common_off_and_both_on_the_diagonal():
    assert mixed(2, 0.3, 0.1).tolist() == [[pytest.approx(0.4), 0.3], [0.3, pytest.approx(0.4)]]
