"""What the check page shows comes out of the signed text alone."""

from datetime import date

from assessments.credentials.achievement import credential
from assessments.credentials.reading import ShownLevel, shown_of
from assessments.credentials.tokens import verify
from tests.factories.credentials import ISSUER, facts, published, token


def test_a_signed_certificate_is_read_back_as_it_was_issued():
    told, read = facts(), shown_of(verify(token(), published(), ISSUER))
    assert (read.url, read.holder, read.school) == (told.url, "Ada Marsh", "Marram Lane Lash School")
    assert (read.programme, read.version, read.scope) == (
        told.achievement.name,
        told.achievement.version,
        told.achievement.description,
    )
    assert (read.awarded_at, read.valid_from, read.valid_until) == (
        told.awarded_at,
        told.valid_from,
        told.valid_until,
    )
    assert (read.started_on, read.ended_on) == (date(2025, 10, 6), date(2026, 2, 27))


def test_figures_and_levels_keep_their_names_and_order():
    read = shown_of(credential(facts()))
    assert read.figures == (("Practice hours", "42.5"), ("Graded sets", "18"))
    assert read.levels == (ShownLevel("Isolation", 3, "sound"), ShownLevel("Placement", 4, "exam-ready"))


def test_what_a_certificate_does_not_say_is_empty():
    bare = facts(
        valid_until=None, holder_name=None, started_on=None, ended_on=None, skills=(), figures=(), statuses=()
    )
    read = shown_of(credential(bare))
    assert (read.holder, read.valid_until, read.started_on, read.ended_on) == ("", None, None, None)
    assert read.figures == read.levels == ()
