"""A credential is read back for people: ours, and the leaner ones of other days."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from assessments.credentials.achievement import SkillResult, credential
from assessments.credentials.reading import ShownLevel, shown_of
from tests.factories.credentials import LEVELS, SITE, facts


def test_every_fact_is_read_as_it_was_written():
    shown = shown_of(credential(facts()))
    assert (shown.holder, shown.school) == ("Ada Marsh", "Marram Lane Lash School")
    assert (shown.programme, shown.version) == ("Classic set, practice heads", "3")
    assert shown.scope == "Single fans on practice heads, inspected fan by fan."
    assert shown.url == f"{SITE}/v/7Q2M9KXD4TBP"
    assert shown.valid_from == shown.awarded_at == datetime(2026, 3, 2, 9, tzinfo=UTC)
    assert shown.valid_until == datetime(2028, 3, 2, 9, tzinfo=UTC)
    assert (shown.started_on, shown.ended_on) == (date(2025, 10, 6), date(2026, 2, 27))
    assert shown.figures == (("Practice hours", "42.5"), ("Graded sets", "18"))
    assert shown.levels == (ShownLevel("Isolation", 3, "sound"), ShownLevel("Placement", 4, "exam-ready"))


def test_what_is_left_out_is_nothing():
    bare = facts(valid_until=None, skills=(), figures=(), started_on=None, ended_on=None, holder_name=None)
    shown = shown_of(credential(bare))
    assert (shown.valid_until, shown.levels, shown.figures) == (None, (), ())
    assert (shown.started_on, shown.ended_on, shown.holder) == (None, None, "")


@pytest.mark.parametrize("achieved", range(5))
def test_the_level_shown_is_the_one_named_by_the_result(achieved: int):
    skill = SkillResult("isolation", "Isolation", LEVELS, achieved=achieved)
    (level,) = shown_of(credential(replace(facts(), skills=(skill,)))).levels
    assert (level.level, level.word) == (achieved, LEVELS[achieved].name)


def test_a_hashed_identity_is_no_name():
    """Open Badges 3.0, IdentityObject: hashed identities are not for reading."""
    written = credential(facts())
    hashed = {
        "type": "IdentityObject",
        "hashed": True,
        "identityHash": "sha256$00",
        "identityType": "emailAddress",
    }
    written["credentialSubject"]["identifier"] = [hashed]
    assert shown_of(written).holder == ""
