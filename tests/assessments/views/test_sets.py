"""The page of one set, and its mark sheet."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from academy.models import Academy, User
from assessments.models import Rubric
from assessments.services.marking import correct_marks
from courses.models import Drill, Fault, Head, SetBrief
from tests.factories.academy import Cast
from tests.factories.assessments import (
    STARTED,
    Bench,
    Outcome,
    happen,
    make_entry,
    make_finished_set,
    make_graded_set,
    make_inspected_set,
    make_started_set,
)
from tests.factories.kept import made_anew, shown


def page_of(uid) -> str:
    return reverse("assessments:set", args=[uid])


def text(client, url: str) -> str:
    answer = client.get(url)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_own_and_staff_may_read_a_set_and_nobody_else(bench: Bench, cast: Cast, client_for):
    uid = make_graded_set(bench).practice_set.uid
    for reader, status in (
        (cast.ada, 200),
        (cast.ines, 200),
        (cast.owner, 200),
        (cast.bea, 404),
        (cast.omar, 404),
        (cast.omar_student, 404),
    ):
        client = client_for(reader)
        assert client.get(page_of(uid)).status_code == status, reader
        assert client.get(reverse("assessments:set-sheet", args=[uid])).status_code == status, reader


def test_an_unknown_set_is_not_here(cast: Cast, client_for):
    assert client_for(cast.ines).get(page_of(uuid4())).status_code == 404


def test_the_page_tells_marks_arithmetic_override_note_and_appeal(bench: Bench, cast: Cast, client_for):
    entry = make_entry(levels={"isolation": 2}, note="Slow down at the inner corner.")
    uid = make_graded_set(bench, outcome=Outcome(faults={0: ["STK"]}), entry=entry).practice_set.uid
    page = text(client_for(cast.ada), page_of(uid))
    for words in (
        "1 stuck of 40: 2.5 %",
        "Proposed 3, given 2: seen at the bench",
        "Slow down at the inner corner.",
        "Sticky",
        "signed by Ines Carvalho on 2 February 2026",
        "talk to your educator or the owner",
        "lot K-2201",
        "10 min: break",
    ):
        assert words in page


def test_an_older_revision_stays_readable_with_who_when_and_why(bench: Bench, cast: Cast, client_for):
    grade = make_graded_set(bench, entry=make_entry(note="First note."))
    correct_marks(
        actor=cast.second,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"isolation": 1}, note="Second note."),
        reason="Three stuck fans were missed.",
        base_revision=1,
        now=STARTED + timedelta(days=1),
    )
    page = text(client_for(cast.ada), page_of(grade.practice_set.uid))
    for words in (
        "This is revision 2, by Tova Lind",
        "Three stuck fans were missed.",
        "Revision 1, by Ines Carvalho",
        "First note.",
        "Second note.",
    ):
        assert words in page


@pytest.mark.parametrize(
    ("make", "url_name", "label"),
    [
        (make_started_set, "assessments:bench", "Open at the bench"),
        (make_finished_set, "assessments:bench-inspect", "Inspect"),
        (make_inspected_set, "assessments:bench-marks", "Mark"),
    ],
)
def test_staff_get_the_next_step_and_the_student_waits(
    bench: Bench, cast: Cast, client_for, make, url_name: str, label: str
):
    uid = make(bench).uid
    step = reverse(url_name, args=[uid])
    staff = text(client_for(cast.ines), page_of(uid))
    assert f'href="{step}">{label}<' in staff
    own = text(client_for(cast.ada), page_of(uid))
    assert step not in own
    assert "once your educator has signed them" in own


def test_marks_are_not_shown_before_they_are_signed(bench: Bench, cast: Cast, client_for):
    uid = make_inspected_set(bench, outcome=Outcome(faults={0: ["STK"]})).uid
    page = text(client_for(cast.ada), page_of(uid))
    assert "Sticky" not in page and "stuck of" not in page
    assert client_for(cast.ada).get(reverse("assessments:set-sheet", args=[uid])).status_code == 404


def test_a_graded_set_offers_print_to_both_and_correction_to_staff_only(bench: Bench, cast: Cast, client_for):
    uid = make_graded_set(bench).practice_set.uid
    sheet, correct = (
        reverse("assessments:set-sheet", args=[uid]),
        reverse("assessments:set-correct", args=[uid]),
    )
    assert sheet in (own := text(client_for(cast.ada), page_of(uid))) and correct not in own
    assert sheet in (staff := text(client_for(cast.ines), page_of(uid))) and correct in staff


def test_the_sheet_is_a_pdf_named_after_student_and_set(bench: Bench, cast: Cast, client_for):
    cast.ada.user.name = "Адa Marsh"
    cast.ada.user.save()
    uid = make_graded_set(bench).practice_set.uid
    answer = client_for(cast.ada).get(reverse("assessments:set-sheet", args=[uid]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
    # RFC 6266: a name outside ASCII travels in filename*
    assert answer["Content-Disposition"].startswith("inline; filename*=utf-8''Mark%20sheet%20%D0%90")


def corrected(uid, cast: Cast) -> None:
    correct_marks(
        actor=cast.owner,
        uid=uid,
        entry=make_entry(levels={"isolation": 0}, note="Look again."),
        reason="Seen again",
        base_revision=1,
        now=STARTED + timedelta(days=2),
    )


WRITES = {
    "a correction": corrected,
    "the student's name": lambda uid, cast: User.objects.filter(pk=cast.ada.user_id).update(name="A. M."),
    "the name of who signed": lambda uid, cast: User.objects.filter(pk=cast.ines.user_id).update(
        name="I. C."
    ),
    "the head's name": lambda uid, cast: Head.objects.update(name="Head by the door"),
    "the brief's name": lambda uid, cast: SetBrief.objects.update(name="Airy volume"),
    "the rubric's name": lambda uid, cast: Rubric.objects.update(name="House rubric"),
    "a fault's name": lambda uid, cast: Fault.objects.filter(code="STK").update(name="Glued together"),
    "a drill": lambda uid, cast: Drill.objects.update(steps="Do it slowly."),
    "the time zone": lambda uid, cast: Academy.objects.filter(pk=cast.academy.pk).update(
        time_zone="Pacific/Kiritimati"
    ),
}


@pytest.mark.parametrize("write", WRITES)
@pytest.mark.parametrize("reader", ["ada", "ines"])
def test_after_a_write_the_kept_page_is_the_page_made_anew(
    bench: Bench, cast: Cast, client_for, write: str, reader: str
):
    uid = make_graded_set(bench, outcome=Outcome(faults={0: ["STK"]})).practice_set.uid
    client, url = client_for(getattr(cast, reader)), page_of(uid)
    before = shown(client, url)
    WRITES[write](uid, cast)
    after = shown(client, url)
    assert after == made_anew(client, url)
    assert after != before


def test_a_set_that_is_not_graded_is_never_kept(bench: Bench, cast: Cast, client_for):
    made = make_started_set(bench)
    client, url = client_for(cast.ines), page_of(made.uid)
    assert "Open at the bench" in shown(client, url)
    happen(bench, made, STARTED + timedelta(minutes=9), "pause", reason="tea")
    assert "tea" in shown(client, url)


def test_student_and_staff_are_never_shown_each_others_page(bench: Bench, cast: Cast, client_for):
    uid = make_graded_set(bench).practice_set.uid
    assert "Correct the marks" in shown(client_for(cast.ines), page_of(uid))
    assert "Correct the marks" not in shown(client_for(cast.ada), page_of(uid))
    assert "Correct the marks" in shown(client_for(cast.ines), page_of(uid))
