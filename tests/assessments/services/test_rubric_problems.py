"""Every reason not to publish has its sentence."""

import pytest

from assessments.models import Criterion, HygieneLine, LevelDescriptor, RubricVersion
from assessments.services.rubric_problems import (
    Sampling,
    fault_codes,
    publish_problems,
    rule_problems,
    sampling_of,
    sampling_problems,
)
from tests.factories.rubrics import rubric_draft


@pytest.fixture
def draft(cast):
    return rubric_draft(cast.academy, cast.owner)


def problems(draft):
    return publish_problems(RubricVersion.objects.get(pk=draft.pk))


def test_the_starter_rubric_has_none(draft):
    assert problems(draft) == ()


def test_looking_costs_the_same_whatever_the_number_of_criteria(draft, django_assert_num_queries):
    with django_assert_num_queries(4):
        publish_problems(draft)


def test_an_unknown_fault_code_is_named_with_its_criterion(draft):
    criterion = draft.criteria.get(code="isolation")
    criterion.rule = criterion.rule | {"faults": ["STK", "ABC"], "floor_faults": ["DEF"]}
    criterion.save()
    start = "Isolation: Counted on inspected fans: the catalogue has no fault"
    assert problems(draft) == (
        f"{start} ABC. Correct the code, or remove it.",
        f"{start} DEF. Correct the code, or remove it.",
    )


def test_an_unreadable_rule_is_named(draft):
    Criterion.objects.filter(version=draft, code="time").update(rule={"percent_at_most": [100, 90, 150, 200]})
    (problem,) = problems(draft)
    assert problem.startswith("Time against target: Time against the target: ")


def test_an_unknown_kind_of_rule_is_named(draft):
    Criterion.objects.filter(version=draft, code="time").update(kind="guessed")
    assert "guessed" in problems(draft)[0]


@pytest.mark.parametrize(
    ("spoil", "start"),
    [
        (lambda draft: draft.criteria.update(is_gate=False), "No criterion is a gate."),
        (lambda draft: draft.criteria.update(weight=0), "Every weight is 0."),
        (
            lambda draft: HygieneLine.objects.filter(version=draft).delete(),
            "There are no hygiene lines to tick.",
        ),
        (
            lambda draft: RubricVersion.objects.filter(pk=draft.pk).update(gaps_per_zone=0),
            "The lid gap is judged but never measured.",
        ),
        (
            lambda draft: RubricVersion.objects.filter(pk=draft.pk).update(pairs_per_zone=0),
            "Lengths left and right are judged but never measured.",
        ),
        (
            lambda draft: RubricVersion.objects.filter(pk=draft.pk).update(directions_per_zone=0),
            "Direction is judged but never measured.",
        ),
        (
            lambda draft: RubricVersion.objects.filter(pk=draft.pk).update(gaps_per_zone=6),
            "6 gaps to measure, but 5 fans are inspected in a zone.",
        ),
        (
            lambda draft: LevelDescriptor.objects.filter(
                criterion__version=draft, criterion__code="wrap", level=2
            ).delete(),
            "Wrap and base: Describe every level from 0 to 4.",
        ),
    ],
)
def test_what_is_missing_is_said(draft, spoil, start):
    spoil(draft)
    (problem,) = problems(draft)
    assert problem.startswith(start)


@pytest.mark.parametrize(
    ("sampling", "fields"),
    [
        (Sampling(5, 2, 2, 1), []),
        (Sampling(1, 1, 0, 0), []),
        (Sampling(0, 0, 0, 0), ["per_zone"]),
        (Sampling(21, 0, 0, 0), ["per_zone"]),
        (Sampling(3, 4, -1, 4), ["gaps_per_zone", "directions_per_zone", "pairs_per_zone"]),
    ],
)
def test_numbers_to_inspect_are_checked(sampling, fields):
    assert [problem.field for problem in sampling_problems(sampling)] == fields


def test_a_rule_is_checked_against_the_faults_that_exist(draft):
    known = fault_codes()
    assert "STK" in known
    assert list(rule_problems("judged", {"caps": {"HVY": 1}}, known)) == []
    (problem,) = rule_problems("judged", {"caps": {"ABC": 1}}, known)
    assert problem.field == "caps"


def test_sampling_is_read_from_a_version(draft):
    assert sampling_of(draft) == Sampling(5, 2, 2, 1)
