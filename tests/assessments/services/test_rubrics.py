"""A rubric's life: installed, copied to a draft, published, chosen for a brief."""

import pytest

from academy.errors import DomainError
from academy.models import AuditEntry
from assessments.models import Criterion, LevelDescriptor, Rubric, RubricVersion
from assessments.scoring.rules import parse_rule, rule_kinds
from assessments.selectors.rubrics import rubric_for
from assessments.services.rubrics import (
    choose_rubric,
    copy_rubric_version,
    discard_draft,
    install_starter_rubric,
    publish_rubric_version,
)
from courses.models import Fault
from tests.factories.courses import make_brief
from tests.factories.rubrics import rubric_draft, starter_rubric

OUR_PROPOSAL = {  # thresholds are our own proposal, no standard says them; 40 fans inspected
    "isolation": [0, 1, 2, 6],
    "closure": [1, 4, 8, 16],
    "wrap": [1, 3, 6, 12],
    "adhesive": [1, 3, 6, 12],
    "attachment": [1, 3, 6, 12],
}


@pytest.fixture
def starter(cast):
    return starter_rubric(cast.academy, cast.owner)


def refusal(code, service, **arguments):
    with pytest.raises(DomainError) as caught:
        service(**arguments)
    assert caught.value.code == code
    return caught.value


def tree(version):
    """Everything a version says, without its keys."""
    return (
        version.per_zone,
        version.gaps_per_zone,
        version.directions_per_zone,
        version.pairs_per_zone,
        [(line.code, line.text, line.is_critical, line.order) for line in version.hygiene_lines.all()],
        [
            (
                *(each.code, each.name, each.skill_id, each.order, each.kind, each.rule),
                *(each.weight, each.is_gate, each.gate_min, each.blocks_time),
                [(descriptor.level, descriptor.text) for descriptor in each.descriptors.all()],
            )
            for each in version.criteria.all()
        ],
    )


def test_the_starter_rubric_has_fourteen_criteria_of_every_kind_each_described_from_0_to_4(starter):
    criteria = list(starter.criteria.all())
    assert len(criteria) == 14
    assert {each.kind for each in criteria} == set(rule_kinds)
    for each in criteria:
        parse_rule(each.kind, each.rule)
        assert [descriptor.level for descriptor in each.descriptors.all()] == [0, 1, 2, 3, 4]
        each.full_clean()
    assert starter.is_published


def test_its_thresholds_are_those_proposed(starter):
    rules = {each.code: each.rule for each in starter.criteria.all()}
    assert {code: rules[code]["at_most"] for code in OUR_PROPOSAL} == OUR_PROPOSAL
    assert rules["time"]["percent_at_most"] == [100, 125, 150, 200]
    # The gap of 0.5 to 1.0 mm is common practice; the window is data because the trade does not agree.
    assert rules["placement"]["inside_mm"] == [0.5, 1.0]
    assert rules["placement"]["floor_faults"] == ["TCH"]


def test_its_gates_and_what_takes_the_time_credit_away(starter):
    gates = {each.code for each in starter.criteria.filter(is_gate=True)}
    blocks = {each.code for each in starter.criteria.filter(blocks_time=True)}
    assert gates == {"isolation", "placement", "product", "hygiene"}
    assert blocks == {"isolation", "placement", "hygiene"}


def test_every_bench_fault_counts_somewhere_or_is_read_from_a_measure(starter):
    rules = [each.rule for each in starter.criteria.all()]
    counted = {
        code for rule in rules for key in ("faults", "floor_faults", "caps") for code in rule.get(key, [])
    }
    at_bench = set(Fault.objects.filter(at_bench=True).values_list("code", flat=True))
    assert at_bench - counted == {"GAP", "MIS"}  # the gap is measured; a bare lash is counted as coverage


def test_the_hygiene_rule_names_the_critical_lines(starter):
    critical = set(starter.hygiene_lines.filter(is_critical=True).values_list("code", flat=True))
    assert starter.hygiene_lines.count() == 10
    assert set(starter.criteria.get(kind="lines").rule["critical"]) == critical
    assert {"eye-cover", "adhesive-off-skin", "adhesive-in-date", "tweezers"} <= critical


def test_installing_again_changes_nothing(cast, starter, now):
    again = install_starter_rubric(academy=cast.academy, actor=cast.owner, now=now)
    assert again.pk == starter.pk
    assert Rubric.objects.filter(academy=cast.academy).count() == 1


def test_a_copy_is_a_draft_that_says_the_same(cast, starter, now):
    draft = copy_rubric_version(version=starter, actor=cast.owner, now=now)
    assert (draft.number, draft.is_published) == (2, False)
    assert tree(draft) == tree(starter)
    assert not {each.pk for each in draft.criteria.all()} & {each.pk for each in starter.criteria.all()}


def test_a_rubric_has_one_draft_at_a_time(cast, starter, now):
    draft = copy_rubric_version(version=starter, actor=cast.owner, now=now)
    error = refusal("draft_exists", copy_rubric_version, version=starter, actor=cast.owner, now=now)
    assert error.details["draft_id"] == draft.pk


def test_an_old_version_can_be_copied_and_takes_the_next_number(cast, starter, now):
    publish_rubric_version(version=rubric_draft(cast.academy, cast.owner), actor=cast.owner, now=now)
    assert copy_rubric_version(version=starter, actor=cast.owner, now=now).number == 3


def test_publishing_is_recorded_and_final(cast, now):
    draft = rubric_draft(cast.academy, cast.owner)
    published = publish_rubric_version(version=draft, actor=cast.owner, now=now)
    assert (published.published_at, published.published_by) == (now, cast.owner)
    entry = AuditEntry.objects.filter(action="publish_rubric_version")[0]
    assert (entry.object_id, entry.after["number"]) == (str(draft.pk), 2)
    refusal("rubric_is_published", publish_rubric_version, version=draft, actor=cast.owner, now=now)
    refusal("rubric_is_published", discard_draft, version=draft, actor=cast.owner, now=now)


def test_a_draft_that_is_not_ready_is_not_published(cast, now):
    draft = rubric_draft(cast.academy, cast.owner)
    Criterion.objects.filter(version=draft).update(is_gate=False)
    error = refusal("rubric_not_ready", publish_rubric_version, version=draft, actor=cast.owner, now=now)
    assert error.details["problems"] == ("No criterion is a gate. Make at least one a gate.",)
    draft.refresh_from_db()
    assert not draft.is_published


def test_a_discarded_draft_is_gone_with_everything_in_it(cast, starter, now):
    draft = rubric_draft(cast.academy, cast.owner)
    discard_draft(version=draft, actor=cast.owner, now=now)
    assert RubricVersion.objects.get() == starter
    assert LevelDescriptor.objects.count() == 14 * 5
    refusal("not_here", discard_draft, version=draft, actor=cast.owner, now=now)


def test_a_brief_is_marked_with_the_newest_version_unless_one_is_chosen(cast, starter, now):
    brief = make_brief(cast.academy, cast.ines).brief
    assert rubric_for(brief) == starter
    newer = publish_rubric_version(version=rubric_draft(cast.academy, cast.owner), actor=cast.owner, now=now)
    assert rubric_for(fresh(brief)) == newer
    choose_rubric(brief=brief, version=starter, actor=cast.ines, now=now)
    assert rubric_for(fresh(brief)) == starter
    choose_rubric(brief=brief, version=newer, actor=cast.ines, now=now)
    assert rubric_for(fresh(brief)) == newer
    choose_rubric(brief=brief, version=None, actor=cast.ines, now=now)
    assert rubric_for(fresh(brief)) == newer
    changes = [
        (entry.before["version"], entry.after["version"])
        for entry in AuditEntry.objects.filter(action="choose_rubric")
    ]
    assert changes == [(newer.pk, None), (starter.pk, newer.pk), (None, starter.pk)]


def fresh(brief):
    return type(brief).objects.get(pk=brief.pk)


def test_neither_a_draft_nor_a_foreign_version_is_chosen(cast, starter, now):
    brief = make_brief(cast.academy, cast.ines).brief
    foreign = starter_rubric(cast.other_academy, cast.omar)
    for version in (rubric_draft(cast.academy, cast.owner), foreign):
        refusal("not_here", choose_rubric, brief=brief, version=version, actor=cast.ines, now=now)
    assert rubric_for(fresh(brief)) == starter
