"""Thresholds go into number fields and come back as they were."""

import json
from decimal import Decimal

import pytest

from assessments.forms.rule_inputs import RULE_INPUTS, order_problems, rule_from
from assessments.scoring.rules import parse_rule, rule_kinds
from courses.services.catalogue import CATALOGUE

CRITERIA = json.loads((CATALOGUE / "rubric.json").read_text())["criteria"]


def test_every_kind_of_rule_has_its_inputs():
    assert set(RULE_INPUTS) == set(rule_kinds)


@pytest.mark.parametrize("criterion", CRITERIA, ids=lambda criterion: criterion["code"])
def test_what_is_shown_and_sent_back_unchanged_is_the_same_rule(criterion):
    kind, rule = criterion["kind"], criterion["rule"]
    sent = {each.name: each.field().clean(str(each.shown(rule))) for each in RULE_INPUTS[kind]}
    assert parse_rule(kind, rule_from(kind, rule, sent)) == parse_rule(kind, rule)


def test_a_share_is_typed_in_per_cent():
    (first, *_) = RULE_INPUTS["covered"]
    assert first.shown({"share_at_least": [0.95, 0.8, 0.6, 0.4]}) == 95
    assert first.kept(Decimal("62.5")) == 0.625


def test_a_rule_without_its_list_shows_empty_fields():
    assert [each.shown({}) for each in RULE_INPUTS["timed"]] == [None] * 4


def test_what_may_be_left_empty_and_is_goes_from_the_rule():
    with_lengths = {"percent_at_most": [5, 9, 19], "mm_at_most": [0.5, 1, 2], "unit": "fans"}
    typed = {f"percent_at_most_{place}": limit for place, limit in enumerate((5, 9, 19))}
    assert rule_from("difference", with_lengths, typed) == {"percent_at_most": [5, 9, 19], "unit": "fans"}
    full = typed | {f"mm_at_most_{place}": Decimal(limit) for place, limit in enumerate(("0.5", "1", "2"))}
    assert rule_from("difference", with_lengths, full) == with_lengths
    assert list(order_problems("difference", full)) == [], "mm are not compared with per cent"


def test_thresholds_in_the_wrong_order_are_named_at_the_lower_level():
    falling = {f"at_most_{place}": limit for place, limit in enumerate((0, 2, 1, 6))}
    assert list(order_problems("counted", falling)) == [
        ("at_most_2", "1 is less than the 2 of the level above. Lower levels allow more.")
    ]
    rising = {f"share_at_least_{place}": Decimal(share) for place, share in enumerate((90, 95, 60, 40))}
    assert [field for field, _ in order_problems("covered", rising)] == ["share_at_least_1"]
    assert list(order_problems("counted", {"at_most_0": 3})) == []
