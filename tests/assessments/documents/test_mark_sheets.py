"""The mark sheet says what was signed, fits long names, and is the same file every time."""

from datetime import timedelta
from io import BytesIO
from typing import Any

import pikepdf
import pytest
from pypdf import PdfReader

from assessments.documents import NotSigned, mark_sheet, mark_sheet_data, mark_sheet_name
from assessments.selectors.records import SetRecord, record_of
from assessments.selectors.sets import practice_set
from assessments.services.marking import correct_marks
from tests.factories.assessments import (
    STARTED,
    Bench,
    Outcome,
    make_entry,
    make_graded_set,
    make_inspected_set,
)

LONG_NAMES = (
    "Nguyễn Thị Hồng Phượng",
    "Александра Константиновна Белозёрская-Оболенская",
    "김서연",
    "Wolfeschlegelsteinhausenbergerdorff the Elder of the Very Long Line of Long Names",
)
# ISO 216: A4 is 210 x 297 mm; a point is 1/72 inch of 25.4 mm.
A4 = [0, 0, 210 / 25.4 * 72, 297 / 25.4 * 72]


def record(bench: Bench, uid) -> SetRecord:
    return record_of(practice_set(bench.academy, uid), now=STARTED + timedelta(days=30))


def text_of(file: bytes) -> str:
    """Words of the pages; line breaks become spaces."""
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(file)).pages)


def signed(bench: Bench, **given: Any) -> SetRecord:
    return record(bench, make_graded_set(bench, **given).practice_set.uid)


def test_the_sheet_holds_what_was_signed(bench: Bench):
    outcome = Outcome(faults={0: ["STK"]})
    entry = make_entry(levels={"isolation": 2}, note="Slow down at the inner corner.", count=25)
    text = text_of(mark_sheet(signed(bench, outcome=outcome, entry=entry)))
    for words in (
        "Marram Lane Lash School",
        "Ada Marsh",
        "Mark sheet, set 1",
        "2 February 2026, 09:00 (UTC)",
        "lot K-2201",
        "Starter rubric, version 1",
        "1 stuck of 40: 2.5 %",
        "Proposed 3, given 2: seen at the bench",
        "Slow down at the inner corner.",
        "25 clean isolations with adhesive, by 9 February 2026",
        "Sticky (",
        "Signed in the records by Ines Carvalho",
        "A training certificate is not a licence.",
    ):
        assert words in text


def test_a_correction_names_its_revision_and_reason(bench: Bench):
    grade = make_graded_set(bench)
    correct_marks(
        actor=bench.educator,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"isolation": 1}),
        reason="Three stuck fans were missed.",
        base_revision=1,
        now=STARTED + timedelta(days=1),
    )
    corrected = record(bench, grade.practice_set.uid)
    text = text_of(mark_sheet(corrected))
    assert "This is revision 2." in text and "Three stuck fans were missed." in text
    assert "Gates not passed" in text
    assert mark_sheet_name(corrected) == "Mark sheet Ada Marsh, set 1, revision 2.pdf"


def test_the_same_record_gives_the_same_bytes_also_later(bench: Bench):
    first = signed(bench)
    later = record_of(first.practice_set, now=STARTED + timedelta(days=400))
    assert mark_sheet(first) == mark_sheet(later)


@pytest.mark.parametrize("name", LONG_NAMES)
def test_long_names_in_any_script_fit_on_the_paper(bench: Bench, name: str):
    bench.student.user.name = name
    bench.student.user.save()
    file = mark_sheet(signed(bench))
    assert name in text_of(file)
    with pikepdf.open(BytesIO(file)) as document:
        for page in document.pages:
            assert [float(edge) for edge in page.MediaBox] == pytest.approx(A4, abs=0.01)


def test_every_zone_of_both_eyes_has_its_row(bench: Bench):
    rows = mark_sheet_data(signed(bench))["faults"]
    assert [row["place"] for row in rows[:2]] == ["Right eye, inner", "Right eye, inner-mid"]
    assert len(rows) == 8 and {row["inspected"] for row in rows} == {"5"}
    assert {row["found"] for row in rows} == {"nothing"}


def test_there_is_no_sheet_before_signing(bench: Bench):
    inspected = make_inspected_set(bench)
    with pytest.raises(NotSigned):
        mark_sheet(record(bench, inspected.uid))
