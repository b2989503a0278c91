import numpy as np
import pytest

from assessments.skill.arrays import BAND_GRID, CURVE_END, mixed, parameter_arrays
from assessments.skill.likelihood import band_level, category_weights, level_moments, weighted_powers
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


def test_criteria_know_their_skill():
    assert ARRAYS.skill_of.tolist() == [1, 0, 0]
    assert ARRAYS.criterion_index["tidy"] == 2


def test_someone_not_listed_is_average_with_a_standard_deviation_of_half_a_logit():
    assert ARRAYS.severity("ines").value == 0.4
    assert (ARRAYS.severity("stranger").value, ARRAYS.severity("stranger").variance) == (0.0, 0.25)
    assert ARRAYS.difficulty("new brief").variance == 0.25


def test_speed_keeps_the_root_of_what_accuracy_keeps():
    """Twice the half-life: the square root of the retention (arithmetic)."""
    accuracy, speed, _ = np.exp(100 * ARRAYS.log_retention)
    assert speed == pytest.approx(np.sqrt(accuracy))


def test_the_level_of_a_skill_is_the_mean_over_its_criteria_bands_for_counts():
    """Oracle: the beta-binomial bands and the rating scale themselves, from their own functions."""
    grid = np.linspace(-CURVE_END, CURVE_END, ARRAYS.curves.shape[1])
    plain = level_moments(grid, ARRAYS.weights)[0]
    counted = np.interp(grid, BAND_GRID, band_level(BAND_GRID, CountScale(at_most=(0, 1, 2, 6))))
    assert ARRAYS.curves[0] == pytest.approx((plain + counted) / 2)
    assert ARRAYS.curves[1] == pytest.approx(level_moments(grid - 0.5, ARRAYS.weights)[0])
    assert ARRAYS.curves[2] == pytest.approx(plain)
    assert (np.diff(ARRAYS.curves, axis=1) >= 0).all()


def test_only_educators_with_steps_of_their_own_have_weights_of_their_own():
    own = Facet(0, 0, 1, (0.5, 0.0, 0.0, -0.5))
    arrays = parameter_arrays(Parameters("1", (), (), educators={"ines": own, "omar": Facet()}))
    assert arrays.powers_of("omar") is arrays.powers
    expected = weighted_powers(
        category_weights(np.add(Parameters("1", (), ()).thresholds, own.steps)).tolist()
    )
    assert arrays.powers_of("ines") == pytest.approx(expected)


def test_mixed_covariance_has_common_off_and_both_on_the_diagonal():
    assert mixed(2, 0.3, 0.1).tolist() == [[pytest.approx(0.4), 0.3], [0.3, pytest.approx(0.4)]]
