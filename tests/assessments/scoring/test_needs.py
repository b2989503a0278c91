from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.scoring.need_rules import KINDS, NeedRules
from assessments.scoring.needs import OpenNeed, SkillFacts, SkillSet, decide_needs

TODAY = date(2026, 6, 1)
RULES = NeedRules()


def at(days_ago, hour=12):
    return datetime.combine(TODAY - timedelta(days=days_ago), time(hour), UTC)


def a_set(days_ago, *, passed=False, failed="", grade=None, signed_ago=None):
    signed = at(days_ago if signed_ago is None else signed_ago)
    return SkillSet(TODAY - timedelta(days=days_ago), grade or 1000 - days_ago, signed, passed, failed)


def facts(*sets, **changes):
    plain = SkillFacts("isolation", "Isolation", True, 3.0, tuple(sets), level=3.2, chance_below=0.4)
    return replace(plain, **changes)


def worked(days_ago, **changes):
    """Three sets, the newest so many days ago."""
    return tuple(a_set(days_ago + nth, **changes) for nth in (2, 1, 0))


def decide(*skills, needs=(), rules=RULES, today=TODAY):
    return decide_needs(skills, needs, rules, today=today)


def kinds(found):
    return [each.kind for each in found.raised]


def open_need(kind, raised_ago, **changes):
    return replace(OpenNeed(7, "isolation", kind, at(raised_ago, hour=9)), **changes)


def test_a_failed_gate_is_answered_within_a_week_of_the_set():
    """A drill within 7 days of the fault: our default."""
    found = decide(facts(a_set(2, failed="Isolation was level 1 in set 3; the gate needs 2.")))
    (need,) = found.raised
    assert (need.kind, need.due_on, need.priority) == ("failed_gate", TODAY + timedelta(days=5), 5)
    assert need.reason == "Isolation was level 1 in set 3; the gate needs 2."


@pytest.mark.parametrize(("chance", "raised"), [(0.89, []), (0.9, ["weak"]), (None, [])])
def test_a_skill_is_called_weak_only_with_enough_certainty(chance, raised):
    assert kinds(decide(facts(*worked(1), level=2.1, chance_below=chance))) == raised


def test_a_beginner_is_below_the_target_in_everything_and_that_is_no_need_yet():
    """Fewer than 3 graded sets make a provisional estimate."""
    beginner = facts(a_set(2), a_set(1), level=1.2, chance_below=0.99)
    assert kinds(decide(beginner)) == []
    assert kinds(decide(beginner, rules=replace(RULES, weak_sets=2))) == ["weak"]


def test_the_two_worst_skills_are_taken_up_at_a_time_gates_first():
    """ "Top two faults, gates first, not all of them": common practice, no source."""
    skills = [
        facts(*worked(1), code=code, is_gate=code == "wrap", level=level, chance_below=0.95)
        for code, level in (("closure", 1.5), ("wrap", 2.3), ("direction", 1.0))
    ]
    assert [each.skill for each in decide(*skills).raised] == ["wrap", "direction"]
    open_one = open_need("weak", 1, skill="closure")
    assert [each.skill for each in decide(*skills, needs=[open_one]).raised] == ["wrap"]


def test_a_skill_has_one_need_at_a_time_the_gravest():
    all_at_once = facts(
        *worked(100, failed="x"), level=1.0, chance_below=0.99, in_review=True, fades_on=TODAY
    )
    assert kinds(decide(all_at_once)) == ["failed_gate"]
    assert kinds(decide(replace(all_at_once, sets=worked(100)))) == ["lapse"]
    assert kinds(decide(replace(all_at_once, sets=worked(100), in_review=False))) == ["weak"]


def test_what_is_asked_for_by_hand_keeps_nothing_else_away():
    weak = facts(*worked(1), level=1.0, chance_below=0.99)
    assert kinds(decide(weak, needs=[open_need("by_hand", 2)])) == ["weak"]


def test_a_later_set_that_shows_the_same_need_renews_its_words_and_its_date():
    need = open_need("failed_gate", 9, reason="x", due_on=TODAY - timedelta(days=2))
    found = decide(facts(a_set(9, failed="x"), a_set(1, failed="y")), needs=[need])
    (renewed,) = found.renewed
    assert (renewed.reason, renewed.due_on) == ("y", TODAY + timedelta(days=6))
    assert found.raised == found.closed == ()


def test_what_only_time_changes_renews_nothing():
    need = open_need("weak", 3, reason="x", due_on=TODAY - timedelta(days=2))
    assert decide(facts(*worked(9), level=2.0, chance_below=0.95), needs=[need]).renewed == ()


def test_a_weak_gate_skill_comes_before_another_weak_skill():
    gate = facts(*worked(1), level=2.1, chance_below=0.95)
    other = replace(gate, code="direction", is_gate=False)
    assert [(each.skill, each.priority) for each in decide(other, gate).raised] == [
        ("isolation", 4),
        ("direction", 3),
    ]


def test_a_slip_after_the_declaration_is_a_need():
    assert kinds(decide(facts(a_set(1), in_review=True))) == ["lapse"]


@pytest.mark.parametrize(("idle", "raised"), [(59, []), (60, ["idle"])])
def test_a_refresher_is_asked_for_after_60_days_without_a_set(idle, raised):
    """60 days: our default; no study of lash work was found."""
    assert kinds(decide(facts(a_set(idle)))) == raised


def test_one_refresher_is_enough_and_it_is_on_the_skill_furthest_below():
    weak = facts(a_set(70), code="direction", is_gate=False, level=1.0)
    gate = facts(a_set(70), level=2.8)
    fine = facts(a_set(70), code="wrap", level=3.9)
    assert [each.skill for each in decide(weak, gate, fine).raised] == ["isolation"]


@pytest.mark.parametrize(
    ("is_gate", "idle", "raised"), [(True, 89, 0), (True, 90, 1), (False, 179, 0), (False, 180, 1)]
)
def test_a_skill_is_marked_again_after_90_days_if_a_gate_and_180_if_not(is_gate, idle, raised):
    """90 and 180 days: our defaults."""
    other = facts(a_set(1), code="pace", is_gate=False)
    found = decide(facts(a_set(idle), is_gate=is_gate), other)
    assert len(found.raised) == raised


def test_a_retest_opens_a_quarter_of_its_wait_before_it_is_due():
    assert kinds(decide(facts(a_set(5, passed=True)))) == []
    (need,) = decide(facts(a_set(6, passed=True))).raised
    assert (need.kind, need.due_on) == ("retest", TODAY + timedelta(days=1))
    assert need.reason == "Retest 7 days after the target was reached on 26 May 2026."


def test_a_retest_asks_for_gate_skills_unless_the_rules_ask_for_all():
    skill = facts(a_set(7, passed=True), is_gate=False)
    assert kinds(decide(skill)) == []
    assert kinds(decide(skill, rules=replace(RULES, retest_gates_only=False))) == ["retest"]


def test_a_level_that_will_fade_brings_the_retest_forward():
    passed = [a_set(40, passed=True), a_set(33, passed=True), a_set(12, passed=True)]
    assert kinds(decide(facts(*passed))) == []
    (need,) = decide(facts(*passed, fades_on=TODAY + timedelta(days=4))).raised
    assert (need.kind, need.due_on) == ("retest", TODAY + timedelta(days=4))
    assert "(guide)" in need.reason


def test_just_practised_is_not_retested_however_near_the_fading():
    passed = [a_set(40, passed=True), a_set(33, passed=True), a_set(12, passed=True), a_set(3, passed=True)]
    assert kinds(decide(facts(*passed, fades_on=TODAY + timedelta(days=4)))) == []


def test_what_is_open_is_not_raised_again():
    skill = facts(*worked(1), level=2.1, chance_below=0.95)
    assert decide(skill, needs=[open_need("weak", 1)]).raised == ()


@pytest.mark.parametrize(
    ("kind", "after"),
    [
        ("failed_gate", facts(a_set(5, failed="x"), a_set(1))),
        ("weak", facts(a_set(5), a_set(1), chance_below=0.49)),
        ("lapse", facts(a_set(5), a_set(1))),
        ("idle", facts(a_set(90), a_set(1))),
        ("retest", facts(a_set(9, passed=True), a_set(1, passed=True))),
        ("retest", facts(a_set(9, passed=True), a_set(1, passed=False))),
        ("by_hand", facts(a_set(5), a_set(1, passed=True))),
    ],
)
def test_a_set_signed_after_it_was_raised_closes_a_need(kind, after):
    (closed,) = decide(after, needs=[open_need(kind, 3)]).closed
    assert (closed.key, closed.grade, closed.count) == (7, 999, None)


@pytest.mark.parametrize("kind", KINDS)
def test_no_need_is_closed_without_a_set_signed_since(kind):
    """The marks may read better after a new fit of the model: that is no evidence."""
    fine = facts(a_set(5, passed=True), chance_below=0.0)
    assert decide(fine, needs=[open_need(kind, 3)]).closed == ()


def test_a_set_that_fails_the_gate_again_closes_nothing():
    again = facts(a_set(5, failed="x"), a_set(1, failed="y"))
    assert decide(again, needs=[open_need("failed_gate", 3)]).closed == ()


@pytest.mark.parametrize(("counted", "closes"), [(29, False), (30, True)])
@pytest.mark.parametrize("kind", ["weak", "by_hand"])
def test_a_counted_drill_closes_once_its_count_is_reached(kind, counted, closes):
    need = open_need(kind, 3, count_target=30, counted=counted, count=5)
    found = decide(facts(a_set(5), chance_below=0.95), needs=[need]).closed
    assert [(each.grade, each.count) for each in found] == ([(None, 5)] if closes else [])


@pytest.mark.parametrize("kind", ["failed_gate", "lapse", "idle", "retest"])
def test_what_is_about_gates_or_time_takes_a_graded_set(kind):
    need = open_need(kind, 3, count_target=30, counted=99, count=5)
    assert decide(facts(a_set(5, failed="x")), needs=[need]).closed == ()


def test_after_a_counted_drill_only_a_new_set_shows_a_weak_skill_again():
    weak = facts(*worked(5), level=2.0, chance_below=0.95, drilled_at=at(2))
    assert kinds(decide(weak)) == []
    assert kinds(decide(replace(weak, sets=(*weak.sets, a_set(1))))) == ["weak"]


def test_nobody_without_marks_needs_anything():
    assert decide().raised == ()
    assert decide(facts(level=None, chance_below=None)).raised == ()


SETS = st.lists(
    st.builds(
        lambda ago, late, passed, failed: a_set(
            ago, passed=passed, failed="x" if failed and not passed else "", signed_ago=max(0, ago - late)
        ),
        st.integers(0, 220),
        st.integers(0, 12),
        st.booleans(),
        st.booleans(),
    ),
    max_size=6,
).map(lambda sets: tuple(sorted(sets, key=lambda each: each.day)))
SKILLS = st.lists(
    st.builds(
        SkillFacts,
        st.sampled_from(["isolation", "placement", "wrap"]),
        st.just("A skill"),
        st.booleans(),
        st.just(3.0),
        SETS,
        st.floats(0, 4),
        st.floats(0, 1),
        st.none() | st.integers(0, 365).map(lambda days: TODAY + timedelta(days=days)),
        st.booleans(),
        st.none() | st.integers(0, 60).map(at),
    ),
    max_size=3,
    unique_by=lambda each: each.code,
)
OPEN = st.lists(
    st.builds(
        OpenNeed,
        st.integers(1, 10**6),
        st.sampled_from(["isolation", "placement", "wrap", "gone"]),
        st.sampled_from(KINDS),
        st.integers(0, 100).map(lambda ago: at(ago, hour=9)),
        st.none() | st.integers(1, 30),
        st.integers(0, 40),
        st.just(3),
    ),
    max_size=8,
    unique_by=lambda each: (each.skill, each.kind),
)


@given(SKILLS, OPEN)
def test_at_most_one_need_of_each_kind_is_open_for_a_skill(skills, needs):
    found = decide(*skills, needs=needs)
    raised = [(each.skill, each.kind) for each in found.raised]
    assert len(set(raised)) == len(raised)
    assert not set(raised) & {(each.skill, each.kind) for each in needs}
    assert all(1 <= each.priority <= 5 and each.reason for each in found.raised)
    assert all(each.due_on >= TODAY for each in found.raised if each.kind != "failed_gate")


@given(SKILLS, OPEN)
def test_every_need_that_closes_has_exactly_one_piece_of_evidence(skills, needs):
    for each in decide(*skills, needs=needs).closed:
        assert (each.grade is None) != (each.count is None)


@given(SKILLS, OPEN)
def test_deciding_again_at_once_changes_nothing(skills, needs):
    first = decide(*skills, needs=needs)
    closed = {each.key for each in first.closed}
    by_count = {need.skill for need in needs for each in first.closed if need.key == each.key and each.count}
    new = {each.key: each for each in first.renewed}
    left = [need for need in needs if need.key not in closed]
    left = [
        replace(need, reason=new[need.key].reason, due_on=new[need.key].due_on) if need.key in new else need
        for need in left
    ]
    left += [
        OpenNeed(10**7 + nth, each.skill, each.kind, datetime.combine(TODAY, time(23), UTC), each.reason)
        for nth, each in enumerate(first.raised)
    ]
    drilled = datetime.combine(TODAY, time(23), UTC)
    then = [replace(each, drilled_at=drilled) if each.code in by_count else each for each in skills]
    again = decide(*then, needs=left)
    assert again.raised == again.renewed == again.closed == ()
