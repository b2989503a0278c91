"""What is frozen comes back as it was, and is told in plain words."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from assessments.scoring.certified import (
    Certified,
    CertifiedCondition,
    CertifiedSkill,
    certified_of,
    content_of,
    counted,
    hours_words,
    plain_words,
)

ISOLATION = CertifiedSkill(
    code="isolation",
    name="Isolation",
    is_gate=True,
    level=3.4,
    level_word="sound",
    low=3.1,
    high=3.7,
    sets=14,
    descriptors=("none", "few", "some", "most", "all"),
    required=3,
)
WHOLE = Certified(
    school="Marram Lane Lash School",
    town="Saltby",
    holder="Đặng Thảo Linh",
    programme="Foundation in lash extensions",
    programme_version=2,
    scope="Classic and volume sets on mannequin heads.",
    theory_minutes=720,
    practical_minutes=2_490,
    sets=14,
    first_set_on=date(2025, 10, 6),
    last_set_on=date(2026, 2, 27),
    educator="Ines Carvalho",
    rubric_versions=("Starter rubric, version 1",),
    parameter_version=None,
    skills=(ISOLATION,),
    marks=(11, 12),
    conditions=(CertifiedCondition("Units", "15 of 15 units signed off."),),
    gate_opened_on=date(2026, 2, 28),
    awarded_at=datetime(2026, 3, 2, 9, tzinfo=UTC),
)


# Written out by hand: a change that can no longer read this would lose certificates already issued.
EARLIER = {
    "school": "S",
    "town": "",
    "holder": "H",
    "programme": "P",
    "programme_version": 1,
    "scope": "",
    "theory_minutes": 0,
    "practical_minutes": 60,
    "sets": 1,
    "first_set_on": "2026-02-02",
    "last_set_on": "2026-02-02",
    "educator": "E",
    "rubric_versions": [],
    "parameter_version": None,
    "marks": [1],
    "gate_opened_on": None,
    "awarded_at": "2026-03-02T09:00:00+00:00",
    "skills": [
        {
            "code": "isolation",
            "name": "Isolation",
            "is_gate": True,
            "level": 3.0,
            "low": 2.0,
            "level_word": "sound",
            "high": 3.5,
            "sets": 1,
            "descriptors": [],
            "required": None,
        }
    ],
    "conditions": [{"name": "Units", "words": "1 of 1."}],
    "wording_version": 1,
}


@pytest.mark.parametrize(
    "certified",
    [
        WHOLE,
        replace(WHOLE, first_set_on=None, last_set_on=None, gate_opened_on=None),
        replace(WHOLE, skills=(), marks=(), conditions=(), rubric_versions=(), parameter_version=7),
    ],
)
def test_it_comes_back_from_json_as_it_was(certified: Certified):
    assert certified_of(json.loads(json.dumps(content_of(certified)))) == certified


def test_what_earlier_certificates_hold_is_read_for_ever():
    found = certified_of(EARLIER)
    assert (found.skills[0].reached, found.last_set_on) == (3, date(2026, 2, 2))
    assert content_of(found) == EARLIER


def test_another_name_changes_the_name_only():
    assert content_of(WHOLE.renamed("Linh Tran")) == {**content_of(WHOLE), "holder": "Linh Tran"}


@pytest.mark.parametrize(("level", "reached"), [(0.0, 0), (2.9, 2), (3.0, 3), (3.9, 3), (4.0, 4)])
def test_a_level_is_reached_when_it_is_whole(level: float, reached: int):
    assert replace(ISOLATION, level=level).reached == reached


def test_it_says_what_was_done_and_what_it_is_not():
    assert plain_words(WHOLE) == [
        "Marram Lane Lash School certifies that Đặng Thảo Linh completed Foundation in lash extensions.",
        "Classic and volume sets on mannequin heads.",
        "Credited: 12 h of theory and 41 h 30 min of practice, with 14 graded practice sets from 6 October"
        " 2025 to 27 February 2026.",
        "The gate to live models was opened on 28 February 2026 by two signatures, the student's and the"
        " educator's.",
        "It is a training certificate, not a licence: local law decides who may work on clients.",
    ]


def test_it_leaves_out_what_is_not_there():
    bare = replace(WHOLE, scope="", gate_opened_on=None, sets=1, last_set_on=WHOLE.first_set_on)
    assert len(plain_words(bare)) == 3
    assert plain_words(bare)[1].endswith("with 1 graded practice set on 6 October 2025.")
    assert plain_words(replace(bare, first_set_on=None))[1].endswith("with 1 graded practice set.")


@pytest.mark.parametrize(
    ("minutes", "words"), [(0, "0 h"), (59, "0 h 59 min"), (60, "1 h"), (125, "2 h 05 min")]
)
def test_minutes_are_told_as_hours(minutes: int, words: str):
    assert hours_words(minutes) == words


def test_one_is_not_many():
    assert [counted(number, "set") for number in (0, 1, 2)] == ["0 sets", "1 set", "2 sets"]
