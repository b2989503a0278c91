"""A draft changes; a published version does not."""

from dataclasses import replace
from decimal import Decimal

import pytest

from academy.errors import DomainError
from academy.models import AuditEntry
from assessments.models import HygieneLine
from assessments.services.rubric_drafts import (
    CriterionContent,
    LineContent,
    change_criterion,
    change_hygiene_lines,
    change_sampling,
    locked_draft,
    name_critical_lines,
)
from assessments.services.rubric_problems import Sampling
from tests.factories.rubrics import rubric_draft, starter_rubric

WORDS = ("Nothing", "Little", "Some", "Most", "All")
STRICT: dict[str, object] = {"faults": ["STK"], "per": 40, "at_most": [0, 0, 1, 3], "noun": "stuck"}
ISOLATION = CriterionContent(
    name="Isolation, strict",
    weight=Decimal("3.5"),
    is_gate=True,
    gate_min=3,
    blocks_time=True,
    rule=STRICT,
    descriptors=WORDS,
)


@pytest.fixture
def draft(cast):
    return rubric_draft(cast.academy, cast.owner)


def refusal(code, service, **arguments):
    with pytest.raises(DomainError) as caught:
        service(**arguments)
    assert caught.value.code == code
    return caught.value


def test_a_criterion_of_a_draft_changes_and_the_record_tells_both(cast, draft, now):
    criterion = draft.criteria.get(code="isolation")
    change_criterion(criterion=criterion, content=ISOLATION, actor=cast.owner, now=now)
    criterion.refresh_from_db()
    assert (criterion.name, criterion.weight, criterion.gate_min) == ("Isolation, strict", Decimal("3.5"), 3)
    assert criterion.rule == ISOLATION.rule
    assert [each.text for each in criterion.descriptors.all()] == list(WORDS)
    entry = AuditEntry.objects.get(action="change_criterion")
    assert (entry.before["weight"], entry.after["weight"]) == ("2.00", "3.50")
    assert entry.before["rule"]["at_most"] == [0, 1, 2, 6]


def test_the_version_it_was_copied_from_stays(cast, draft, now):
    change_criterion(
        criterion=draft.criteria.get(code="isolation"), content=ISOLATION, actor=cast.owner, now=now
    )
    original = starter_rubric(cast.academy, cast.owner).criteria.get(code="isolation")
    assert (original.name, original.rule["at_most"]) == ("Isolation", [0, 1, 2, 6])


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"rule": STRICT | {"at_most": [3, 2, 1, 0]}}, "rule_is_wrong"),
        ({"rule": STRICT | {"faults": ["ABC"]}}, "rule_is_wrong"),
        ({"rule": {}}, "rule_is_wrong"),
        ({"descriptors": WORDS[:4]}, "descriptors_missing"),
        ({"descriptors": (*WORDS[:4], " ")}, "descriptors_missing"),
    ],
)
def test_a_wrong_criterion_is_refused_and_nothing_changes(cast, draft, now, change, code):
    criterion = draft.criteria.get(code="isolation")
    refusal(
        code,
        change_criterion,
        criterion=criterion,
        content=replace(ISOLATION, **change),
        actor=cast.owner,
        now=now,
    )
    criterion.refresh_from_db()
    assert (criterion.name, criterion.descriptors.count()) == ("Isolation", 5)


def test_numbers_to_inspect_change_in_a_draft(cast, draft, now):
    change_sampling(version=draft, sampling=Sampling(8, 3, 4, 2), actor=cast.owner, now=now)
    draft.refresh_from_db()
    assert (draft.per_zone, draft.gaps_per_zone) == (8, 3)
    assert (draft.directions_per_zone, draft.pairs_per_zone) == (4, 2)
    wrong = Sampling(3, 4, 0, 0)
    error = refusal(
        "sampling_is_wrong", change_sampling, version=draft, sampling=wrong, actor=cast.owner, now=now
    )
    assert error.details["field"] == "gaps_per_zone"


def test_lines_are_replaced_in_order_and_keep_their_codes(cast, draft, now):
    lines = [
        LineContent("eye-cover", "Lower lashes covered", True),
        LineContent("hands", "", False),
        LineContent("", "Lamp checked for glare", True),
        LineContent("waste", " Waste sorted ", False),
        LineContent("", "Chair at the right height", False),
    ]
    change_hygiene_lines(version=draft, lines=lines, actor=cast.owner, now=now)
    found = [(line.code, line.text, line.is_critical) for line in draft.hygiene_lines.all()]
    assert found == [
        ("eye-cover", "Lower lashes covered", True),
        ("line-1", "Lamp checked for glare", True),
        ("waste", "Waste sorted", False),
        ("line-2", "Chair at the right height", False),
    ]
    assert draft.criteria.get(kind="lines").rule["critical"] == ["eye-cover", "line-1"]


def test_a_new_line_never_takes_the_code_of_another(cast, draft, now):
    lines = [LineContent("", "First", False), LineContent("line-1", "Second", False)]
    change_hygiene_lines(version=draft, lines=lines, actor=cast.owner, now=now)
    assert [line.code for line in draft.hygiene_lines.all()] == ["line-2", "line-1"]


def test_a_change_of_the_hygiene_criterion_cannot_forget_the_critical_lines(cast, draft, now):
    criterion = draft.criteria.get(kind="lines")
    content = replace(ISOLATION, rule={"minor_at_most": [0, 2, 3], "critical": []})
    change_criterion(criterion=criterion, content=content, actor=cast.owner, now=now)
    criterion.refresh_from_db()
    assert criterion.rule["minor_at_most"] == [0, 2, 3]
    assert "eye-cover" in criterion.rule["critical"]


def test_the_rule_follows_the_lines(draft):
    HygieneLine.objects.filter(version=draft).update(is_critical=False)
    name_critical_lines(draft)
    assert draft.criteria.get(kind="lines").rule["critical"] == []


def test_a_published_version_refuses_every_service(cast, now):
    published = starter_rubric(cast.academy, cast.owner)
    criterion = published.criteria.get(code="isolation")
    common = {"actor": cast.owner, "now": now}
    refusal("rubric_is_published", change_criterion, criterion=criterion, content=ISOLATION, **common)
    refusal(
        "rubric_is_published", change_sampling, version=published, sampling=Sampling(5, 1, 1, 1), **common
    )
    refusal("rubric_is_published", change_hygiene_lines, version=published, lines=[], **common)
    refusal("rubric_is_published", locked_draft, version=published)
    assert published.hygiene_lines.count() == 10
