"""How many sets more: against curves whose answer can be worked out, and the sentences for each case."""

import numpy as np
import pytest

from assessments.skill.interface import SkillInputError
from assessments.skill.time_curve import TimeFit, cold_prior, fit_time_curve
from assessments.skill.time_forecast import sets_needed

FAULTS = "2 of 40 fans at fault: 5 %."


def certain(mean, sets=10):
    """A curve known exactly, but for a hair."""
    return TimeFit(np.array(mean), np.eye(3) * 1e-14, 0.1, 30.0, sets, 0, "ok", "")


def forecast(fit, target_s, sets_so_far=10, **options):
    rng = np.random.default_rng(1)
    return sets_needed(
        fit, target_s=target_s, sets_so_far=sets_so_far, fault_words=FAULTS, rng=rng, **options
    )


def test_a_known_eighty_percent_curve_reaches_half_the_first_time_at_set_nine():
    # 0.8^log2(n) <= 0.5 first at n = 9: 0.8^3 = .512 at 8, .4930 at 9 (arithmetic).
    fit = certain([np.log(10_000), np.log2(0.8), 0.0])
    found = forecast(fit, 5000, sets_so_far=4)
    assert (found.q10, found.q50, found.q90, found.chance, found.status) == (5, 5, 5, 1.0, "ok")
    assert found.words == ("About 5 more sets to a usual time of 83 minutes (80 % range 5 to 5). " + FAULTS)


def test_a_curve_that_turns_up_again_is_held_at_its_lowest():
    # ln time = 9 - ln n + 0.5 ln^2 n is lowest at n = e, 8.5; from set 3 on it counts as reached there.
    fit = certain([9.0, -1.0, 0.5])
    assert forecast(fit, float(np.exp(8.51)), sets_so_far=20).status == "reached"


def test_a_target_already_met_needs_no_set():
    found = forecast(certain([np.log(10_000), -0.3, 0.0]), 9000)
    assert (found.q50, found.status) == (0, "reached")
    assert "is reached" in found.words


def test_times_that_do_not_fall_give_no_forecast():
    found = forecast(certain([9.0, 0.05, 0.0]), 5000)
    assert (found.status, found.q50) == ("not_falling", None)
    assert found.words == "Times are not falling; no forecast. " + FAULTS


def test_a_target_too_far_away_is_said_to_be_so():
    found = forecast(certain([np.log(10_000), -0.05, 0.0]), 2000, horizon=50)
    assert (found.status, found.q50, found.chance) == ("not_expected", None, 0.0)
    assert found.words == "Target not expected within 50 more sets. " + FAULTS


def test_fewer_than_three_timed_sets_give_no_personal_forecast():
    found = forecast(fit_time_curve([1, 2], [9000, 8000], cold_prior(9000)), 6000, sets_so_far=2)
    assert (found.status, found.q50) == ("no_data", None)
    assert found.words.startswith("Too few timed sets for a personal forecast; group curve shown.")


def test_the_range_widens_with_doubt_and_repeats_with_the_same_generator():
    numbers = list(range(1, 9))
    seconds = (9000 * np.array(numbers) ** -0.25).tolist()
    fit = fit_time_curve(numbers, seconds, cold_prior(9000))
    found = forecast(fit, 4600, sets_so_far=8)
    assert found == forecast(fit, 4600, sets_so_far=8)
    assert found.q10 < found.q50
    assert found.q90 is None or found.q90 > found.q50


def test_a_time_is_never_shown_without_the_fault_rate():
    with pytest.raises(SkillInputError, match="never shown without the fault rate"):
        sets_needed(
            certain([9.0, -0.3, 0.0]),
            target_s=5000,
            sets_so_far=5,
            fault_words=" ",
            rng=np.random.default_rng(0),
        )


def test_a_target_or_count_that_cannot_be_is_refused():
    fit = certain([9.0, -0.3, 0.0])
    with pytest.raises(SkillInputError, match="above zero"):
        forecast(fit, 0)
    with pytest.raises(SkillInputError, match="sets done so far"):
        forecast(fit, 5000, sets_so_far=-1)
