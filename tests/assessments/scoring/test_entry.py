"""What an educator enters: read, refused with a sentence, and joined with what was proposed."""

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.scoring.entry import (
    MAX_COUNT,
    MAX_NOTE,
    MAX_REASON,
    MarkEntry,
    as_data,
    final_levels,
    read_entry,
    resolve,
)
from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.marks import CriterionSpec
from assessments.scoring.proposals import JUDGED, NOT_ENOUGH, PROPOSED, Proposal

ISOLATION = CriterionSpec("isolation", "Isolation", "isolation", "counted", 2.0, is_gate=True)
WRAP = CriterionSpec("wrap", "Wrap", "wrap", "counted", 1.5, is_gate=False)
PROPOSED_3 = Proposal(3, "1 stuck of 40, band 3.", PROPOSED)
NOTHING_YET = Proposal(None, "The lines are not checked yet.", NOT_ENOUGH)
BY_EYE = Proposal(None, "A person judges this.", JUDGED)
CAPPED = Proposal(None, "HVY on 1 of 40 fans. Choose the level: 1 at most.", JUDGED, cap=1)

codes = st.from_regex(r"[a-z][a-z-]{0,28}", fullmatch=True)
texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=40)
entries = st.builds(
    MarkEntry,
    lines_missed=st.none() | st.lists(codes, max_size=4).map(tuple),
    left_count=st.none() | st.integers(0, MAX_COUNT),
    right_count=st.none() | st.integers(0, MAX_COUNT),
    levels=st.dictionaries(codes, st.integers(0, 4), max_size=4),
    reasons=st.dictionaries(codes, texts, max_size=4),
    note=texts,
    drill=st.just("") | codes,
    drill_count=st.none() | st.integers(0, MAX_COUNT),
)


def settle(spec: CriterionSpec, proposal: Proposal, **entry: Any):
    """The final mark, or None, and the problems: of one criterion alone."""
    marks, problems = resolve([spec], {spec.code: proposal}, MarkEntry(**entry))
    return next(iter(marks), None), problems


@given(entries)
def test_an_entry_survives_the_journey_through_json(entry):
    assert read_entry(json.loads(json.dumps(as_data(entry)))) == entry


def test_an_empty_draft_reads_as_nothing_entered():
    assert read_entry({}) == MarkEntry()


def test_lines_not_looked_at_differ_from_lines_all_met():
    assert read_entry({}).lines_missed is None
    assert read_entry({"lines_missed": []}).lines_missed == ()


def test_a_level_set_back_to_null_is_no_longer_chosen():
    assert read_entry({"levels": {"wrap": None, "layers": 2}}).levels == {"layers": 2}


@pytest.mark.parametrize(
    ("data", "member"),
    [
        ({"note": "x" * (MAX_NOTE + 1)}, "note"),
        ({"note": 7}, "note"),
        ({"note": "nul \0 byte"}, "note"),
        ({"note": "half a \ud83d pair"}, "note"),
        ({"reasons": {"wrap": "x" * (MAX_REASON + 1)}}, "reasons"),
        ({"reasons": {"x" * 31: "long code"}}, "reasons"),
        ({"reasons": ["wrap"]}, "reasons"),
        ({"levels": {"wrap": 5}}, "levels"),
        ({"levels": {"wrap": -1}}, "levels"),
        ({"levels": {"wrap": 2.5}}, "levels"),
        ({"levels": {"wrap": True}}, "levels"),
        ({"levels": {"wrap": "3"}}, "levels"),
        ({"levels": {"nul\0": 3}}, "levels"),
        ({"left_count": -1}, "left_count"),
        ({"left_count": MAX_COUNT + 1}, "left_count"),
        ({"right_count": 80.5}, "right_count"),
        ({"right_count": "80"}, "right_count"),
        ({"drill_count": True}, "drill_count"),
        ({"lines_missed": "hands"}, "lines_missed"),
        ({"lines_missed": [1]}, "lines_missed"),
        ({"drill": "x" * 31}, "drill"),
    ],
)
def test_an_impossible_member_is_refused_by_its_name_with_what_to_do(data, member):
    with pytest.raises(ScoringInputError) as refused:
        read_entry(data)
    assert refused.value.code == member
    assert refused.value.message.count(".") >= 2, "one sentence says what is wrong, the next what to do"


def test_the_note_may_be_as_long_as_it_says_and_no_longer():
    assert len(read_entry({"note": "é" * MAX_NOTE}).note) == MAX_NOTE
    with pytest.raises(ScoringInputError, match=r"10000 characters\. Shorten it to 2000"):
        read_entry({"note": "x" * 10_000})


def test_a_chosen_level_counts_before_the_proposed_one_and_an_unknown_code_never():
    proposals = {"isolation": PROPOSED_3, "wrap": NOTHING_YET}
    entry = MarkEntry(levels={"isolation": 1, "gone": 4})
    assert final_levels(proposals, entry) == {"isolation": 1}


def test_a_proposal_left_alone_becomes_the_mark():
    mark, problems = settle(ISOLATION, PROPOSED_3)
    assert (mark.level, mark.reason, problems) == (3, "", ())


def test_choosing_another_level_than_proposed_needs_a_reason():
    _, problems = settle(ISOLATION, PROPOSED_3, levels={"isolation": 2})
    assert [problem.field for problem in problems] == ["reason_isolation"]
    assert "differs from the proposed 3. Give the reason" in problems[0].message
    mark, problems = settle(ISOLATION, PROPOSED_3, levels={"isolation": 2}, reasons={"isolation": " combed "})
    assert (mark.level, mark.reason, problems) == (2, "combed", ())


def test_blanks_are_no_reason():
    _, problems = settle(WRAP, PROPOSED_3, levels={"wrap": 4}, reasons={"wrap": "   "})
    assert [problem.field for problem in problems] == ["reason_wrap"]


def test_choosing_the_proposed_level_overrides_nothing_whatever_was_typed_before():
    mark, problems = settle(WRAP, PROPOSED_3, levels={"wrap": 3}, reasons={"wrap": "typed for a 2"})
    assert (mark.level, mark.reason, problems) == (3, "", ())


def test_a_gate_without_a_level_stands_in_the_way_and_another_criterion_does_not():
    mark, problems = settle(ISOLATION, NOTHING_YET)
    assert mark is None
    assert [problem.field for problem in problems] == ["level_isolation"]
    assert "Isolation is a gate and has no level yet. The lines are not checked yet." in problems[0].message
    assert settle(WRAP, NOTHING_YET) == (None, ())


def test_a_level_judged_by_eye_where_counts_were_possible_needs_a_reason():
    _, problems = settle(ISOLATION, NOTHING_YET, levels={"isolation": 3})
    assert [problem.field for problem in problems] == ["reason_isolation"]
    assert "judged by eye" in problems[0].message


def test_a_level_that_only_a_person_can_judge_needs_none():
    mark, problems = settle(ISOLATION, BY_EYE, levels={"isolation": 3})
    assert (mark.level, problems) == (3, ())


def test_going_over_the_cap_needs_a_reason_and_staying_under_it_does_not():
    assert settle(ISOLATION, CAPPED, levels={"isolation": 1})[1] == ()
    _, problems = settle(ISOLATION, CAPPED, levels={"isolation": 2})
    assert [problem.field for problem in problems] == ["reason_isolation"]
    assert "1 at most" in problems[0].message
    mark, problems = settle(ISOLATION, CAPPED, levels={"isolation": 2}, reasons={"isolation": "one lapse"})
    assert (mark.level, mark.reason, problems) == (2, "one lapse", ())


@given(entries, st.sampled_from([PROPOSED_3, NOTHING_YET, BY_EYE, CAPPED]))
def test_every_mark_is_a_level_and_without_problems_every_gate_has_one(entry, proposal):
    marks, problems = resolve([ISOLATION, WRAP], {"isolation": proposal, "wrap": proposal}, entry)
    assert all(mark.level in range(5) for mark in marks)
    assert problems or any(mark.code == "isolation" for mark in marks)
