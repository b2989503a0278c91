import pytest

from assessments.scoring.need_rules import KINDS, NeedRuleError, NeedRules, parse_need_rules


def test_an_academy_that_says_nothing_has_the_proposed_defaults():
    """60 days to a refresher, 90 and 180 to a new mark before live work, retests at 7, 28, 90 and 180 days, a
    drill within 7: decisions of ours, no standard."""
    rules = parse_need_rules({})
    assert rules == NeedRules()
    assert rules.retest_days == (7, 28, 90, 180)
    assert (rules.refresher_days, rules.regate_days, rules.regate_other_days) == (60, 90, 180)
    assert rules.drill_days == 7


def test_one_changed_priority_leaves_the_others():
    rules = parse_need_rules({"priorities": {"idle": 4}})
    assert rules.priorities["idle"] == 4
    assert set(rules.priorities) == set(KINDS)


@pytest.mark.parametrize(
    ("data", "code", "field"),
    [
        ({"colour": 1}, "unknown_rule", "colour"),
        ({"certainty": 0.5}, "certainty_out_of_range", "certainty"),
        ({"certainty": 1.0}, "certainty_out_of_range", "certainty"),
        ({"refresher_days": 0}, "days_out_of_range", "refresher_days"),
        ({"regate_days": True}, "days_out_of_range", "regate_days"),
        ({"drill_days": 3.5}, "days_out_of_range", "drill_days"),
        ({"retest_days": [7, 7]}, "retests_out_of_order", "retest_days"),
        ({"retest_days": [28, 7]}, "retests_out_of_order", "retest_days"),
        ({"retest_days": [0]}, "days_out_of_range", "retest_days"),
        ({"retest_days": list(range(1, 10))}, "retests_out_of_order", "retest_days"),
        ({"weak_sets": 0}, "count_out_of_range", "weak_sets"),
        ({"most_weak": 41}, "count_out_of_range", "most_weak"),
        ({"priorities": {"weak": 6}}, "priority_out_of_range", "priorities"),
    ],
)
def test_what_cannot_be_is_refused_and_named(data, code, field):
    with pytest.raises(NeedRuleError) as refused:
        parse_need_rules(data)
    assert (refused.value.code, refused.value.field) == (code, field)


def test_no_retests_at_all_may_be_asked_for():
    assert parse_need_rules({"retest_days": []}).retest_days == ()
