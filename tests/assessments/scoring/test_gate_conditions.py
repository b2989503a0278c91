"""Each condition says whether it is met, on which rows, what is missing and the shortest way there."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.scoring import gate_conditions as condition
from assessments.scoring.mastery import MasteryConditions, check_mastery
from assessments.scoring.readiness_facts import ConsentFact, HoursFact, LevelFact, SkillFact, UnitFact
from tests.assessments.scoring.readiness_facts import NOW, a_mastery_set, a_set, days_later, mastery

CLEAN = [a_mastery_set(1), a_mastery_set(2), a_mastery_set(3)]


def unit(title: str, passed: bool | None) -> UnitFact:
    return UnitFact(title.lower(), title, True, passed, "signed off", "1" if passed else "")


class TestUnits:
    def test_a_unit_not_signed_off_or_not_passed_is_missing_by_name(self):
        found = condition.units(
            [unit("Hygiene", True), unit("Fans", None), unit("Load", False)], "units", "Units"
        )
        assert not found.met
        assert found.words == "1 of 3 units signed off."
        assert found.way == "An educator signs off “Fans” and “Load”."
        assert [each.row for each in found.evidence] == ["1"]

    def test_many_missing_units_are_counted(self):
        found = condition.units([unit(f"Unit {n}", None) for n in range(6)], "units", "Units")
        assert found.way == "An educator signs off “Unit 0”, “Unit 1”, “Unit 2” and 3 more."

    def test_all_signed_off_is_met(self):
        found = condition.units([unit("Hygiene", True)], "units", "Units")
        assert (found.met, found.way) == (True, "")


class TestHours:
    @pytest.mark.parametrize(("minutes", "met"), [(479, False), (480, True), (481, True)])
    def test_theory_is_met_to_the_minute(self, minutes, met):
        """8 clock hours of theory, as Minn. R. 2110.0580 (text current December 2024) sets for its course."""
        assert condition.theory_hours(HoursFact(theory=minutes), 8).met is met

    def test_what_is_missing_is_told_in_hours_and_minutes(self):
        found = condition.theory_hours(HoursFact(theory=385), 8)
        assert found.words == "6 h 25 min; 8 h asked for."
        assert found.way == "1 h 35 min more theory, entered by an educator."

    def test_practical_hours_are_those_entered_and_those_on_the_clock_of_sets(self):
        """6 clinical hours, as the same rule sets for its course."""
        hours = HoursFact(practical=120, clock=240)
        assert condition.practical_hours(hours, [], 6).met
        assert not condition.practical_hours(HoursFact(practical=120, clock=239), [], 6).met
        told = [each.words for each in condition.practical_hours(hours, [], 6).evidence]
        assert told == ["2 h entered", "4 h on the clock of practice sets"]

    def test_the_way_there_counts_sets_at_the_pace_of_the_last_three(self):
        """100, 180 and 200 min make 160 on average; 7 h are 2.6 such sets."""
        sets = [
            a_set(1, worked_minutes=20),
            *(a_set(n, worked_minutes=m) for n, m in ((2, 100), (3, 180), (4, 200))),
        ]
        found = condition.practical_hours(HoursFact(clock=180), sets, 10)
        assert found.way == "7 h more: about 3 practice sets."

    def test_a_part_of_a_minute_asked_for_is_a_whole_one(self):
        assert not condition.theory_hours(HoursFact(theory=20), 0.34).met  # 20.4 min
        assert condition.theory_hours(HoursFact(theory=21), 0.34).met


class TestSets:
    def test_graded_sets_are_counted(self):
        assert condition.graded_sets(10, 10).met
        assert condition.graded_sets(8, 10).way == "2 more graded sets."

    def test_the_last_sets_have_every_line_signed(self):
        assert condition.hygiene([a_set(1, missed=("ventilation on",)), a_set(2), a_set(3)], 2).met

    def test_one_missed_line_starts_the_count_afresh(self):
        found = condition.hygiene([a_set(1), a_set(2, missed=("ventilation on",)), a_set(3)], 3)
        assert not found.met
        assert found.way == "2 more graded sets with every hygiene line signed."
        assert "ventilation on" in found.evidence[1].words

    @pytest.mark.parametrize("bad", [{"missed": None}, {"missed": ("waste sorted",)}, {"lines": 0}])
    def test_lines_not_looked_at_or_not_asked_are_not_signed(self, bad):
        assert not condition.hygiene([a_set(1, **bad)], 1).met

    def test_too_few_sets_are_not_enough(self):
        assert not condition.hygiene([a_set(1)], 2).met
        assert not condition.hygiene([], 1).met

    @pytest.mark.parametrize(("idle", "met"), [(0, True), (89, True), (90, False), (400, False)])
    def test_practice_is_recent_for_as_long_as_an_open_gate_would_hold(self, idle, met):
        last = a_set(1, graded_at=NOW)
        found = condition.recent([last], 90, days_later(idle))
        assert (found.met, bool(found.way)) == (met, not met)

    def test_no_set_is_no_recent_practice(self):
        assert not condition.recent([], 90, NOW).met


class TestSkills:
    def test_every_gate_skill_has_to_be_declared(self):
        declared = SkillFact("isolation", "Isolation", True, "competent", "7")
        collecting = SkillFact("placement", "Placement", False, "collecting sets", "", 4)
        assert condition.competence([declared]).met
        found = condition.competence([declared, collecting])
        assert not found.met
        assert found.way == "Placement: at least 4 more clean sets."

    def test_no_gate_skill_at_all_is_never_met(self):
        assert not condition.competence([]).met

    def test_a_level_is_read_as_it_is_shown(self):
        assert condition.level("isolation", LevelFact("Isolation", 2.95), 3).met
        assert not condition.level("isolation", LevelFact("Isolation", 2.94), 3).met

    def test_a_level_not_marked_or_not_known_is_not_met(self):
        assert not condition.level("isolation", LevelFact("Isolation", None), 0).met
        assert not condition.level("nonsense", None, 0).met


class TestMastery:
    def test_the_blind_mark_is_a_condition_of_its_own(self):
        fact = mastery(*(a_mastery_set(n, blind_by=frozenset()) for n in (1, 2, 3)))
        assert condition.mastery(fact).met
        assert not condition.blind_mark(fact).met

    def test_a_mark_by_the_same_educator_is_not_blind(self):
        fact = mastery(*(a_mastery_set(n, blind_by=frozenset({1})) for n in (1, 2, 3)))
        assert not condition.blind_mark(fact).met

    def test_a_set_that_waits_for_its_second_mark_is_the_shortest_way(self):
        fact = mastery(*(a_mastery_set(n, blind_by=frozenset()) for n in (1, 2, 3)), waiting=(2,))
        assert condition.blind_mark(fact).way == "Set 2 already waits for its second mark."

    def test_a_set_no_longer_among_the_last_does_not_help(self):
        fact = mastery(*(a_mastery_set(n, blind_by=frozenset()) for n in (1, 2, 3, 4)), waiting=(1,))
        assert "Chance" in condition.blind_mark(fact).way

    def test_the_evidence_is_the_last_sets(self):
        fact = mastery(*CLEAN, a_mastery_set(4))
        assert [each.key for each in condition.mastery(fact).evidence] == ["uid-2", "uid-3", "uid-4"]

    @pytest.mark.parametrize(
        ("history", "more"),
        [
            ([], 3),
            ([a_mastery_set(1)], 2),
            ([a_mastery_set(1), a_mastery_set(2, gates_passed=False), a_mastery_set(3)], 2),
            ([a_mastery_set(1), a_mastery_set(2), a_mastery_set(3, levels={"Isolation": 2})], 3),
            ([a_mastery_set(1), a_mastery_set(2), a_mastery_set(3, day=date(2026, 2, 2))], 2),
        ],
    )
    def test_the_shortest_way_is_the_fewest_clean_sets(self, history, more):
        """By hand: sets until the one at fault, or one of two on a day, is no longer among the last three."""
        assert condition.mastery(mastery(*history)).way.startswith(f"{more} more graded set")

    def test_too_few_fans_a_set_are_told_where_no_number_of_sets_would_do(self):
        few = [a_mastery_set(n, inspected=20) for n in (1, 2, 3)]
        assert condition.mastery(mastery(*few)).way == "More fans inspected a set: 120 in 3 sets asked for."

    @given(
        st.lists(
            st.builds(
                a_mastery_set,
                st.integers(1, 28),
                gates_passed=st.sampled_from([True, False, None]),
                levels=st.fixed_dictionaries({"Isolation": st.integers(0, 4)}),
                faults=st.integers(0, 3),
            ),
            max_size=5,
        )
    )
    def test_so_many_clean_sets_do_it_and_one_fewer_does_not(self, history):
        found = condition.mastery(mastery(*history))
        if found.met:
            return
        more = int(found.way.split()[0])
        assert self.met_after(history, more)
        assert not self.met_after(history, more - 1)

    @staticmethod
    def met_after(history, more: int) -> bool:
        last = history[-1].day.toordinal() if history else date(2026, 2, 1).toordinal()
        clean = [
            a_mastery_set(1, day=date.fromordinal(last + n), levels={"Isolation": 4})
            for n in range(1, more + 1)
        ]
        lines = check_mastery([*history, *clean], MasteryConditions()).lines
        return all(line.met for line in lines if line.code != "blind")


class TestConsent:
    def test_it_is_met_while_it_is_given(self):
        given = ConsentFact("Assessment record", True, date(2026, 1, 12), "9")
        found = condition.consent("assessment_record", given)
        assert (found.met, found.words) == (True, "Given on 12 January 2026.")
        assert [each.row for each in found.evidence] == ["9"]

    def test_withdrawn_or_never_asked_it_is_not(self):
        withdrawn = ConsentFact("Assessment record", False, date(2026, 1, 12), "10")
        never = ConsentFact("Assessment record")
        for fact in (withdrawn, never):
            found = condition.consent("assessment_record", fact)
            assert not found.met
            assert "My consents" in found.way

    def test_a_consent_that_nobody_can_give_shuts_the_gate_and_says_who_can_help(self):
        found = condition.consent("hat_size", None)
        assert not found.met
        assert "owner" in found.way


def test_the_opened_gate_is_counted():
    assert condition.gate_opened(1).words == "Opened once."
    assert not condition.gate_opened(0).met


def test_whoever_has_left_has_no_gate():
    found = condition.left(date(2026, 2, 1))
    assert (found.met, found.words) == (False, "Ended on 1 February 2026.")
