import pytest

from assessments.scoring.wording import counted, percent, rate_words


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "0 %"),
        (0.0001, "less than 0.1 %"),
        (0.0648, "6.5 %"),
        (0.5, "50 %"),
        (0.9999, "more than 99.9 %"),
        (1.0, "100 %"),
    ],
)
def test_a_share_is_never_rounded_to_a_certainty(share, words):
    assert percent(share) == words


def test_a_rate_is_shown_as_it_was_set():
    assert [rate_words(0.2), rate_words(0.0125)] == ["20 %", "1.25 %"]


def test_one_of_a_thing_has_no_s():
    assert [counted(1, "set"), counted(0, "set"), counted(3, "set")] == ["1 set", "0 sets", "3 sets"]
