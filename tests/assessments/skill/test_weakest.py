import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.skill.interface import SkillEstimate, SkillInputError, no_estimate
from assessments.skill.weakest import SkillTarget, chance_below, order_by_need


def at_level(skill, level, *, arms=(0.5, 0.5)):
    low, high = max(0.0, level - arms[0]), min(4.0, level + arms[1])
    return SkillEstimate(skill, level, low, high, 5, "ok", "")


def aim(skill, target=3.0, *, gate=False, name=None):
    return SkillTarget(skill, name or skill.title(), gate, target)


def order(estimates, targets):
    return [need.skill for need in order_by_need(estimates, targets)]


def test_a_gate_below_target_leads_even_when_another_gap_is_larger():
    estimates = [at_level("isolation", 2.8), at_level("symmetry", 0.5)]
    assert order(estimates, [aim("symmetry"), aim("isolation", gate=True)]) == ["isolation", "symmetry"]


def test_a_gate_at_target_waits_its_turn():
    estimates = [at_level("isolation", 3.0), at_level("symmetry", 2.9), at_level("wrap", 3.5)]
    targets = [aim("wrap"), aim("isolation", gate=True), aim("symmetry")]
    assert order(estimates, targets) == ["symmetry", "isolation", "wrap"]


def test_the_gap_counts_and_not_the_level():
    estimates = [at_level("wrap", 1.5), at_level("layers", 2.0)]
    assert order(estimates, [aim("wrap", 2.0), aim("layers", 3.5)]) == ["layers", "wrap"]


def test_skills_without_data_come_last_but_are_listed():
    estimates = [no_estimate("isolation"), at_level("wrap", 3.9)]
    targets = [aim("isolation", gate=True), aim("layers"), aim("wrap")]
    needs = order_by_need(estimates, targets)
    assert [need.skill for need in needs] == ["wrap", "isolation", "layers"]
    assert needs[1].gap is None and needs[1].chance_below is None
    assert needs[2].estimate == no_estimate("layers")


def test_ties_go_by_name_even_when_the_arithmetic_is_a_hair_off():
    assert 3.0 - 2.9 > 1.0 - 0.9
    estimates = [at_level("a", 2.9), at_level("b", 0.9)]
    targets = [aim("a", 3.0, name="Wrap"), aim("b", 1.0, name="Direction")]
    assert order(estimates, targets) == order(estimates[::-1], targets[::-1]) == ["b", "a"]


def test_the_gap_is_target_less_level():
    (need,) = order_by_need([at_level("wrap", 3.5)], [aim("wrap", 3.0)])
    assert need.gap == -0.5


@given(
    st.lists(
        st.tuples(st.none() | st.floats(0, 4), st.floats(0, 4), st.booleans(), st.sampled_from(["A", "B"])),
        max_size=7,
    ),
    st.randoms(use_true_random=False),
)
def test_every_target_is_listed_once_in_an_order_that_ignores_the_input_order(skills, random):
    targets = [SkillTarget(str(n), name, gate, target) for n, (_, target, gate, name) in enumerate(skills)]
    estimates = [
        no_estimate(str(n)) if level is None else at_level(str(n), level)
        for n, (level, *_) in enumerate(skills)
    ]
    needs = order_by_need(estimates, targets)
    assert sorted(need.skill for need in needs) == sorted(target.skill for target in targets)
    random.shuffle(targets)
    random.shuffle(estimates)
    assert order_by_need(estimates, targets) == needs


def test_a_target_at_either_end_of_the_interval_has_a_chance_of_5_or_95_percent():
    """A 90 % interval leaves 5 % on each side, by definition."""
    wrap = at_level("wrap", 2.0)
    assert chance_below(wrap, 1.5) == pytest.approx(0.05)
    assert chance_below(wrap, 2.0) == pytest.approx(0.5)
    assert chance_below(wrap, 2.5) == pytest.approx(0.95)


def test_the_chance_at_one_standard_deviation_is_the_tabled_one():
    """Normal table: P(Z < 1) = 0.8413, half width of 90 % = 1.6449 sd (values from memory)."""
    wrap = at_level("wrap", 1.0, arms=(0.5, 1.6449))
    assert chance_below(wrap, 2.0) == pytest.approx(0.8413, abs=1e-4)


def test_an_interval_cut_off_by_the_scale_does_not_make_the_chance_bolder():
    cut = at_level("wrap", 3.9, arms=(0.8, 0.8))
    assert chance_below(cut, 3.1) == pytest.approx(0.05)


def test_an_interval_without_width_is_certain():
    point = at_level("wrap", 2.0, arms=(0, 0))
    assert (chance_below(point, 2.1), chance_below(point, 2.0)) == (1.0, 0.0)


@pytest.mark.parametrize(
    ("estimates", "targets", "code"),
    [
        ([at_level("a", 1)], [], "skill_without_target"),
        ([at_level("a", 1), at_level("a", 2)], [aim("a")], "skill_twice"),
        ([], [aim("a"), aim("a")], "skill_twice"),
    ],
)
def test_lists_that_do_not_fit_are_refused(estimates, targets, code):
    with pytest.raises(SkillInputError) as caught:
        order_by_need(estimates, targets)
    assert caught.value.code == code


@pytest.mark.parametrize("target", [-0.1, 4.1, float("nan")])
def test_a_target_off_the_scale_is_refused(target):
    with pytest.raises(SkillInputError) as caught:
        aim("a", target)
    assert caught.value.code == "target_out_of_range"
