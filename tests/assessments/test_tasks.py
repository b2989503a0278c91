"""Signing marks sends the letter once the signature stands, and not before."""

from tests.factories.assessments import Bench, make_graded_set


def test_signing_sends_the_letter_after_the_transaction(
    bench: Bench, mailoutbox, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        make_graded_set(bench)
        assert mailoutbox == []
    assert [letter.subject for letter in mailoutbox] == ["Your marks for set 1 at Marram Lane Lash School"]
