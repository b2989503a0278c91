"""The owner's form and the programme it stands for."""

import pytest

from assessments.forms.competence import MasteryForm, RuleForm, initial_of
from assessments.scoring.characteristics import risks
from assessments.scoring.lapse import watch_risks
from assessments.scoring.programme_rules import PRESETS, parse_programme

SHORT = PRESETS["short_course"]
OWN = {
    "preset": "own",
    "kind": "learning_cusum",
    "acceptable_rate": "10",
    "inadequate_rate": "30",
    "horizon": "40",
    "risk": "5",
    "is_watched": "on",
    "watch_risk": "10",
}


def form(**data):
    return RuleForm(SHORT, {**OWN, **data}, counted=True)


@pytest.mark.parametrize("name", PRESETS)
def test_a_preset_is_taken_as_it_is(name):
    sent = RuleForm(SHORT, {"preset": name}, counted=True)
    assert sent.is_valid(), sent.errors
    assert sent.programme() == PRESETS[name]


@pytest.mark.parametrize("name", PRESETS)
def test_what_a_preset_fills_in_is_a_form_that_can_be_sent(name):
    filled = {key: value for key, value in initial_of(PRESETS[name]).items() if value is not False}
    sent = RuleForm(SHORT, {**filled, "preset": "own"}, counted=True)
    assert sent.is_valid(), sent.errors
    wanted, got = parse_programme(PRESETS[name]), parse_programme(sent.programme())
    assert type(got.rule) is type(wanted.rule)
    assert risks(got.rule) == risks(wanted.rule)
    assert got.watch is not None and wanted.watch is not None
    assert watch_risks(got.watch).words == watch_risks(wanted.watch).words


def test_own_risks_are_kept_whatever_is_asked():
    sent = form()
    assert sent.is_valid(), sent.errors
    found = parse_programme(sent.programme())
    assert found.watch is not None
    assert risks(found.rule).false_declared <= 0.05
    assert watch_risks(found.watch).false_alarm <= 0.10
    assert "threshold" in sent.programme()["rule"] and "risk" not in sent.programme()["rule"]


def test_without_the_watch_there_is_none_and_its_risk_is_not_asked_for():
    sent = form(is_watched="", watch_risk="")
    assert sent.is_valid(), sent.errors
    assert sent.programme()["watch"] is None


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"risk": ""}, "risk", "Give a number."),
        ({"risk": "0"}, "risk", "more than 0 and less than 50 %"),
        ({"watch_risk": "0"}, "watch_risk", "more than 0 and less than 50 %"),
        ({"acceptable_rate": "30"}, "acceptable_rate", "the acceptable one lower"),
        ({"horizon": "3"}, "horizon", "Lengthen the horizon"),
        ({"kind": "run", "length": ""}, "length", "Give a number."),
        ({"kind": "run", "length": "50"}, "horizon", "looks at 40"),
        ({"kind": "nonsense"}, "kind", "not on the list"),
        ({"preset": "nonsense"}, "preset", "not on the list"),
    ],
)
def test_what_cannot_be_gets_a_sentence_at_its_field(changes, field, words):
    sent = form(**changes)
    assert not sent.is_valid()
    assert words in " ".join(sent.errors[field])


def test_what_the_chosen_kind_does_not_ask_for_may_stay_empty():
    sent = form(kind="run", length="7", risk="", is_watched="")
    assert sent.is_valid(), sent.errors
    assert sent.programme()["rule"] == {
        "kind": "run",
        "acceptable_rate": 0.1,
        "inadequate_rate": 0.3,
        "horizon": 40,
        "length": 7,
    }


def test_a_skill_that_is_not_counted_is_not_offered_fan_counts():
    sent = RuleForm(SHORT, {"preset": "fan_counts"}, counted=False)
    assert not sent.is_valid() and "fan_counts" not in sent.presets()


def test_mastery_conditions_that_contradict_each_other_are_refused():
    given = {"sets": 3, "days": 5, "level": 3, "faults_allowed": 1, "inspected": 120, "blind_marks": 1}
    sent = MasteryForm(given)
    assert not sent.is_valid() and "Give 1 to 3." in sent.errors["days"][0]
    assert MasteryForm({**given, "days": 2}).is_valid()
