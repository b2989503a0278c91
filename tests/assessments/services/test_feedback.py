"""One letter about each revision, and nothing in it that the marks do not say."""

from datetime import timedelta
from smtplib import SMTPServerDisconnected

import pytest

from academy.models import AuditEntry
from assessments.services import feedback
from assessments.services.feedback import send_feedback
from assessments.services.marking import correct_marks
from tests.factories.assessments import STARTED, Bench, Outcome, make_entry, make_graded_set

NOW = STARTED + timedelta(hours=5)


def test_a_student_gets_one_letter_however_often_it_is_asked_for(bench: Bench, mailoutbox):
    grade = make_graded_set(bench)
    assert send_feedback(grade_id=grade.pk, now=NOW)
    assert not send_feedback(grade_id=grade.pk, now=NOW)
    assert [letter.to for letter in mailoutbox] == [["Ada Marsh <ada.marsh@people.example>"]]


def test_the_letter_says_gates_faults_and_the_one_thing_next(bench: Bench, mailoutbox):
    outcome = Outcome(faults={0: ["STK"], 1: ["STK"], 2: ["CLF"], 3: ["BED"]})
    entry = make_entry(note="Slow down at the inner corner; it's nearly there.", count=25)
    grade = make_graded_set(bench, outcome=outcome, entry=entry)
    send_feedback(grade_id=grade.pk, now=NOW)
    (letter,) = mailoutbox
    assert letter.subject == "Your marks for set 1 at Marram Lane Lash School"
    for words in (
        "Isolation: level 2, needs 2, gate passed.",
        f"Score: {grade.score:.0f} of 100.",
        "Sticky: 2 of 40",
        "Hold and check, 25 clean isolations with adhesive, by 9 February 2026.",
        "it's nearly there",
        f"/sets/{grade.practice_set.uid}/",
    ):
        assert words in letter.body
    assert "Lopsided" not in letter.body
    (html, _), *rest = letter.alternatives
    assert not rest and "Sticky: 2 of 40" in html and "<img" not in html


def test_no_fault_and_no_drill_are_said_rather_than_left_blank(bench: Bench, mailoutbox):
    grade = make_graded_set(bench, entry=make_entry(drill=""))
    send_feedback(grade_id=grade.pk, now=NOW)
    assert "No faults were found on the fans looked at." in mailoutbox[0].body
    assert "No drill was set this time." in mailoutbox[0].body


def test_a_correction_gets_its_own_letter_with_its_reason(bench: Bench, mailoutbox):
    grade = make_graded_set(bench)
    corrected = correct_marks(
        actor=bench.educator,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"isolation": 1}),
        reason="Three stuck fans were missed.",
        base_revision=1,
        now=NOW,
    )
    send_feedback(grade_id=corrected.pk, now=NOW)
    assert mailoutbox[0].subject == "Corrected marks for set 1 at Marram Lane Lash School"
    assert "Three stuck fans were missed." in mailoutbox[0].body
    assert "Not all gates passed." in mailoutbox[0].body


def test_somebody_who_has_left_gets_no_letter(bench: Bench, mailoutbox):
    grade = make_graded_set(bench)
    bench.student.left_at = NOW
    bench.student.save()
    assert not send_feedback(grade_id=grade.pk, now=NOW)
    assert mailoutbox == []


def test_an_unknown_grade_sends_nothing(db: None, mailoutbox):
    assert not send_feedback(grade_id=999_999, now=NOW)
    assert mailoutbox == []


def test_a_letter_that_could_not_be_sent_may_be_tried_again(bench: Bench, mailoutbox, monkeypatch):
    grade = make_graded_set(bench)

    def refuse(letter: object) -> None:
        raise SMTPServerDisconnected

    with monkeypatch.context() as patch:
        patch.setattr(feedback, "send", refuse)
        with pytest.raises(SMTPServerDisconnected):
            send_feedback(grade_id=grade.pk, now=NOW)
    assert not AuditEntry.objects.filter(action="send_feedback").exists()
    assert send_feedback(grade_id=grade.pk, now=NOW)
    assert len(mailoutbox) == 1
