"""The owner's rules page and its live picture, and where decisions stand on a student's page."""

import re

import pytest
from django.urls import reverse

from assessments.models import CompetenceRule, MasteryRule
from tests.factories.academy import Cast
from tests.factories.assessments import Bench
from tests.factories.competence import passes_in_a_row, set_rule, sets_at

RULES = reverse("assessments:competence-rules")
RULE = reverse("assessments:competence-rule", args=["isolation"])
PICTURE = reverse("assessments:competence-picture", args=["isolation"])
MASTERY = reverse("assessments:competence-mastery")
STAND = reverse("assessments:stand")
OWN = {
    "preset": "own",
    "kind": "run",
    "acceptable_rate": "10",
    "inadequate_rate": "50",
    "horizon": "20",
    "length": "5",
}
MASTERY_DATA = {
    "sets": 4,
    "days": 2,
    "level": 3,
    "faults_allowed": 1,
    "inspected": 120,
    "blind_marks": 0,
}


TAG = re.compile(r"<script.*?</script>|<[^>]+>", re.DOTALL)


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


class TestRules:
    def test_the_owner_reads_every_rule_with_what_it_does(self, bench: Bench, cast: Cast, client_for):
        page = words(client_for(cast.owner).get(RULES))
        for skill in ("Isolation", "Placement", "Hygiene", "Product fit"):
            assert f"{skill}: Short course" in page
        assert "is declared competent 6.5 % of the time" in page
        assert "At most 1 gate fault in 120 fans inspected." in page

    def test_an_academy_without_a_catalogue_is_told_what_to_do(self, cast: Cast, client_for):
        assert "No gate skills" in words(client_for(cast.owner).get(RULES))

    def test_saving_makes_a_version_and_says_what_becomes_of_declarations(
        self, bench: Bench, cast: Cast, client_for
    ):
        answer = client_for(cast.owner).post(RULE, OWN, follow=True)
        assert "Isolation: version 2 is in force. What was declared stays declared." in words(answer)
        assert CompetenceRule.objects.get(number=2).programme == {
            "name": "Own rates",
            "rule": {
                "kind": "run",
                "acceptable_rate": 0.1,
                "inadequate_rate": 0.5,
                "horizon": 20,
                "length": 5,
            },
            "watch": None,
        }

    def test_what_cannot_be_is_shown_again_with_all_that_was_typed(
        self, bench: Bench, cast: Cast, client_for
    ):
        answer = client_for(cast.owner).post(RULE, {**OWN, "acceptable_rate": "61", "horizon": "33"})
        page = words(answer)
        assert answer.status_code == 200 and "the acceptable one lower" in page
        assert 'value="61"' in page and 'value="33"' in page
        assert not CompetenceRule.objects.filter(number=2).exists()

    def test_without_a_script_the_picture_comes_by_submit(self, bench: Bench, cast: Cast, client_for):
        page = words(client_for(cast.owner).get(RULE, OWN))
        # Five passes in a row at one half within 20: 1 - a(20) / 2^20 of the pentanacci numbers, 25.0 %
        assert "a student who fails 50 % of sets is declared competent 25 % of the time" in page
        assert 'value="5"' in page

    def test_a_skill_that_is_not_a_gate_is_not_here(self, bench: Bench, cast: Cast, client_for):
        for name in ("assessments:competence-rule", "assessments:competence-picture"):
            assert client_for(cast.owner).get(reverse(name, args=["closure"])).status_code == 404

    def test_only_isolation_is_offered_fan_counts(self, bench: Bench, cast: Cast, client_for):
        hygiene = reverse("assessments:competence-rule", args=["hygiene"])
        assert 'value="fan_counts"' in words(client_for(cast.owner).get(RULE))
        assert 'value="fan_counts"' not in words(client_for(cast.owner).get(hygiene))


class TestPicture:
    def test_it_is_drawn_for_what_is_typed_and_saves_nothing(self, bench: Bench, cast: Cast, client_for):
        page = words(client_for(cast.owner).get(PICTURE, OWN))
        assert page.startswith('<p class="rule-meaning">') and "curve-line" in page
        assert "Three passes in a row alone would declare" in page
        assert not CompetenceRule.objects.filter(number=2).exists()

    def test_what_cannot_be_drawn_is_told_in_sentences(self, bench: Bench, cast: Cast, client_for):
        answer = client_for(cast.owner).get(PICTURE, {**OWN, "length": ""})
        assert answer.status_code == 422 and "Passes in a row: Give a number." in words(answer)

    def test_screens_never_use_the_words_of_statisticians(self, bench: Bench, cast: Cast, client_for):
        client = client_for(cast.owner)
        for url in (RULES, RULE, PICTURE, MASTERY):
            page = TAG.sub(" ", words(client.get(url))).lower()
            assert [word for word in ("cusum", "sprt", "logit", "likelihood") if word in page] == []


class TestMastery:
    def test_conditions_are_saved_as_a_version(self, bench: Bench, cast: Cast, client_for):
        page = words(client_for(cast.owner).post(MASTERY, MASTERY_DATA, follow=True))
        assert "The last 4 sets, on 2 different days" in page and "No blind second mark" in page
        assert MasteryRule.objects.order_by("-number")[0].conditions == MASTERY_DATA

    def test_conditions_that_contradict_are_shown_again(self, bench: Bench, cast: Cast, client_for):
        page = words(client_for(cast.owner).post(MASTERY, {**MASTERY_DATA, "days": 9}))
        assert "Give 1 to 4." in page and 'value="9"' in page


class TestStudentPage:
    @pytest.mark.parametrize("own", [True, False])
    def test_she_and_her_educator_read_where_every_decision_stands(
        self, bench: Bench, cast: Cast, client_for, own: bool
    ):
        set_rule(cast.owner, passes_in_a_row(2))
        sets_at(bench, [3, 3])
        reader = cast.ada if own else cast.ines
        url = STAND if own else reverse("assessments:student", args=[cast.ada.pk])
        page = words(client_for(reader).get(url))
        for told in (
            "Gate skills: 1 of 4 declared competent",
            "Competent after 2 sets: 0 of 2 failed.",
            "At least 5 more clean sets.",  # the short course needs seven
            "Not yet corrected for strict and lenient educators.",
            "mastery conditions not met yet",
            "rule version 2: declared competent",
            "running tally",
        ):
            assert told in page, told

    def test_a_review_is_told_with_the_set(self, bench: Bench, cast: Cast, client_for):
        set_rule(cast.owner, passes_in_a_row(2))
        sets_at(bench, [3, 3, 1])
        page = words(client_for(cast.ada).get(STAND))
        assert "in review" in page and "Work slipped at set 3, so the rule starts again." in page
