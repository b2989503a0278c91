"""Drafts that lose nothing, signatures that happen once, and marks that stay as they were signed."""

from dataclasses import replace
from datetime import date, timedelta
from uuid import uuid4

import pytest

from academy.errors import Conflict, NotHere
from academy.models import AuditEntry, RecordIsFinal
from academy.services.people import end_membership
from assessments.models import Grade, Mark, MarkingDraft, PracticeSet, SkillStanding
from assessments.scoring.entry import MarkEntry, as_data, read_entry
from assessments.services import marking
from assessments.services.marking import (
    AlreadySigned,
    DraftMovedOn,
    MarksIncomplete,
    correct_marks,
    save_draft,
    sign_marks,
)
from assessments.services.rubric_drafts import LineContent, change_hygiene_lines
from assessments.services.rubrics import publish_rubric_version
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, make_entry
from tests.factories.bench import (
    clean,
    event,
    faulty,
    finished_set,
    graded_set,
    happens,
    inspected_set,
    make_bench,
    open_ready_set,
    positions_of,
    working_set,
)
from tests.factories.rubrics import rubric_draft

NOW = STARTED + timedelta(hours=6)
MINUTE = timedelta(minutes=1)


@pytest.fixture
def made(bench: Bench) -> PracticeSet:
    """Inspected, with two fans stuck: isolation is proposed at level 2."""
    return inspected_set(bench, found={0: faulty("STK"), 1: faulty("STK")})


@pytest.fixture
def letters(monkeypatch) -> list[int]:
    """Grades a feedback letter was asked for, after commit."""
    asked: list[int] = []
    monkeypatch.setattr(marking, "enqueue", lambda path, *, grade_id: asked.append(grade_id))
    return asked


def signed(bench: Bench, made: PracticeSet, entry: MarkEntry | None = None, **changes) -> Grade:
    given = {"actor": bench.educator, "uid": made.uid, "event_uid": uuid4(), "now": NOW, **changes}
    return sign_marks(entry=entry or make_entry(), **given)


def corrected(bench: Bench, made: PracticeSet, entry: MarkEntry | None = None, **changes) -> Grade:
    given = {"actor": bench.educator, "uid": made.uid, "now": NOW + MINUTE, "base_revision": 1, **changes}
    given.setdefault("reason", "the lint was no adhesive")
    return correct_marks(entry=entry or make_entry(), **given)


def draft(bench: Bench, made: PracticeSet, note: str, **changes) -> MarkingDraft:
    given = {"actor": bench.educator, "uid": made.uid, "base": None, "now": NOW, **changes}
    return save_draft(entry=MarkEntry(note=note), **given)


def problems(refused) -> dict[str, str]:
    return {problem.field: problem.message for problem in refused.value.problems}


class TestDrafts:
    def test_a_draft_keeps_what_was_entered_and_who_saved_it(self, bench: Bench, made: PracticeSet):
        entry = make_entry(levels={"isolation": 3}, note="Combs freely.")
        saved = save_draft(actor=bench.educator, uid=made.uid, entry=entry, base=None, now=NOW)
        assert (read_entry(saved.data), saved.saved_by, saved.saved_at) == (entry, bench.educator, NOW)

    def test_marks_may_be_begun_while_the_inspection_is_open(self, bench: Bench):
        assert draft(bench, finished_set(bench), "so far").data["note"] == "so far"

    def test_somebody_elses_newer_draft_is_never_overwritten(
        self, bench: Bench, made: PracticeSet, cast: Cast
    ):
        base = draft(bench, made, "hers").saved_at
        draft(bench, made, "theirs", actor=cast.second, base=base, now=NOW + MINUTE)
        with pytest.raises(DraftMovedOn, match="Tova Lind has saved other marks") as no:
            draft(bench, made, "hers again", base=base, now=NOW + 2 * MINUTE)
        assert no.value.current.data["note"] == MarkingDraft.objects.get().data["note"] == "theirs"

    def test_who_has_read_the_newer_draft_may_save_over_it(self, bench: Bench, made: PracticeSet, cast: Cast):
        theirs = draft(bench, made, "theirs", actor=cast.second)
        draft(bench, made, "hers", base=theirs.saved_at, now=NOW + MINUTE)
        assert MarkingDraft.objects.get().data["note"] == "hers"

    def test_the_own_second_tab_is_no_stranger(self, bench: Bench, made: PracticeSet):
        draft(bench, made, "first tab")
        draft(bench, made, "second tab", base=None, now=NOW + MINUTE)
        assert MarkingDraft.objects.get().data["note"] == "second tab"

    @pytest.mark.parametrize("prepare", [open_ready_set, graded_set])
    def test_a_set_not_open_for_marks_takes_no_draft(self, bench: Bench, prepare):
        prepare(bench)
        with pytest.raises(Conflict, match="not open for marks"):
            draft(bench, PracticeSet.objects.get(), "too early or too late")

    def test_a_draft_in_another_academy_is_not_here(self, made: PracticeSet, bench: Bench, cast: Cast):
        with pytest.raises(NotHere):
            draft(bench, made, "from next door", actor=cast.omar)


class TestSigning:
    def test_the_signed_marks_say_what_was_proposed_and_why(self, bench: Bench, made: PracticeSet):
        grade = signed(bench, made, make_entry(note="Combs freely.", count=15))
        mark = grade.marks.get(criterion__code="isolation")
        assert (mark.level, mark.proposed, mark.faults, mark.inspected) == (2, 2, 2, 40)
        assert mark.words.startswith("2 stuck of 40: 5 %")
        assert (grade.revision, grade.reason, grade.note) == (1, "", "Combs freely.")
        assert grade.drill is not None
        assert (grade.drill.code, grade.drill_count, grade.gates_passed) == ("hold-and-check", 15, True)
        assert grade.inspection.practice_set == made
        assert read_entry(grade.entry) == make_entry(note="Combs freely.", count=15)

    def test_the_set_is_graded_and_the_draft_is_gone(self, bench: Bench, made: PracticeSet):
        draft(bench, made, "so far")
        signed(bench, made)
        made.refresh_from_db()
        assert (made.state, made.graded_at) == ("graded", NOW)
        assert not MarkingDraft.objects.exists()
        assert made.events.filter(kind="grade").count() == 1

    def test_the_score_is_the_weighted_mean_of_levels_in_percent(self, bench: Bench, made: PracticeSet):
        # Weights of the starter rubric add up to 17; isolation (weight 2) is at 2, product and layers
        # (weight 1 each) at 3, all others at 4: 100 · (17·4 − 2·2 − 1 − 1) / (17·4), by hand.
        assert signed(bench, made).score == pytest.approx(100 * 62 / 68)

    def test_the_drill_is_due_after_the_days_of_the_academy(self, bench: Bench, made: PracticeSet):
        assert signed(bench, made).drill_due_on == date(2026, 2, 9)  # 2 February and 7 days
        without = corrected(bench, made, make_entry(drill=""))
        assert (without.drill, without.drill_count, without.drill_due_on) == (None, None, None)

    def test_a_drill_without_a_count_takes_the_one_of_the_drill(self, bench: Bench, made: PracticeSet):
        grade = signed(bench, made, replace(make_entry(), drill_count=None))
        assert grade.drill is not None and grade.drill_count == grade.drill.count_target

    def test_it_leaves_one_audit_entry_with_the_levels(self, bench: Bench, made: PracticeSet):
        grade = signed(bench, made)
        entry = AuditEntry.objects.get(action="sign_marks")
        assert (entry.actor, entry.object_id, entry.at) == (bench.educator, str(grade.pk), NOW)
        assert entry.after["levels"]["isolation"] == 2

    def test_standings_follow_in_the_same_moment(self, bench: Bench, made: PracticeSet):
        signed(bench, made)
        skills = {mark.criterion.skill_id for mark in Mark.objects.select_related("criterion")}
        standings = SkillStanding.objects.filter(student=bench.student, at=NOW)
        assert {standing.skill_id for standing in standings} == skills

    def test_one_letter_is_asked_for_and_a_repeat_asks_for_none(
        self, bench: Bench, made: PracticeSet, letters: list[int]
    ):
        key = uuid4()
        grade = signed(bench, made, event_uid=key)
        signed(bench, made, event_uid=key)
        assert letters == [grade.pk]

    def test_the_letter_waits_for_the_commit(self, bench: Bench, made: PracticeSet, mailoutbox,
                                             django_capture_on_commit_callbacks):  # fmt: skip
        with django_capture_on_commit_callbacks() as callbacks:
            signed(bench, made)
        assert mailoutbox == []
        for tell in callbacks:
            tell()
        assert [letter.to for letter in mailoutbox] == [["Ada Marsh <ada.marsh@people.example>"]]

    def test_the_same_form_sent_twice_signs_once(self, bench: Bench, made: PracticeSet):
        key = uuid4()
        first = signed(bench, made, event_uid=key)
        assert signed(bench, made, make_entry(levels={"wrap": 1}), event_uid=key, now=NOW + MINUTE) == first
        assert Grade.objects.count() == 1
        assert AuditEntry.objects.filter(action="sign_marks").count() == 1

    def test_the_second_educator_is_told_who_has_signed(self, bench: Bench, made: PracticeSet, cast: Cast):
        signed(bench, made)
        with pytest.raises(AlreadySigned, match=r"Ines Carvalho has signed .* \(revision 1\) meanwhile"):
            signed(bench, made, actor=cast.second)

    def test_a_form_key_that_was_used_for_something_else_signs_nothing(self, bench: Bench, made: PracticeSet):
        start = made.events.get(kind="start")
        with pytest.raises(Conflict, match="already been used"):
            signed(bench, made, event_uid=start.uid)
        assert not Grade.objects.exists()

    def test_marks_wait_for_the_inspection(self, bench: Bench):
        with pytest.raises(Conflict, match="Close the inspection of this set"):
            signed(bench, finished_set(bench))

    def test_a_set_of_another_academy_is_not_here(self, bench: Bench, made: PracticeSet, cast: Cast):
        with pytest.raises(NotHere):
            signed(bench, made, actor=cast.omar)
        signed(bench, made)
        with pytest.raises(NotHere):
            corrected(bench, made, actor=cast.omar)


class TestWhatStandsInTheWay:
    def refused(self, bench: Bench, made: PracticeSet, entry: MarkEntry) -> dict[str, str]:
        with pytest.raises(MarksIncomplete) as no:
            signed(bench, made, entry)
        assert not Grade.objects.exists() and not Mark.objects.exists()
        made.refresh_from_db()
        assert made.state == "inspected"
        return problems(no)

    def test_a_gate_without_a_level_is_named_on_its_field(self, bench: Bench, made: PracticeSet):
        found = self.refused(bench, made, MarkEntry())
        assert set(found) == {"level_hygiene", "level_product"}
        assert "Hygiene and set-up is a gate and has no level yet" in found["level_hygiene"]

    def test_an_override_without_a_reason_is_named_on_its_field(self, bench: Bench, made: PracticeSet):
        entry = replace(make_entry(), levels={"product": 3, "isolation": 3})
        found = self.refused(bench, made, entry)
        assert list(found) == ["reason_isolation"]
        assert "level 3 differs from the proposed 2" in found["reason_isolation"]

    def test_a_fault_that_caps_a_judged_level_asks_for_a_reason_above_it(self, bench: Bench):
        heavy = inspected_set(bench, found={3: faulty("HVY")})
        found = self.refused(bench, heavy, make_entry())
        assert list(found) == ["reason_product"]
        assert "1 at most" in found["reason_product"]
        grade = signed(bench, heavy, replace(make_entry(), levels={"product": 1, "layers": 3}))
        assert grade.marks.get(criterion__code="product").level == 1
        assert not grade.gates_passed, "Product fit is a gate that needs level 2"

    def test_an_unknown_drill_or_line_is_named_on_its_field(self, bench: Bench, made: PracticeSet):
        entry = replace(make_entry(drill="juggling"), lines_missed=("humming",))
        found = self.refused(bench, made, entry)
        assert {"drill", "lines_done"} <= set(found)


class TestCorrection:
    def test_a_correction_is_a_new_revision_and_the_old_one_stays_readable(
        self, bench: Bench, made: PracticeSet, letters: list[int]
    ):
        first = signed(bench, made)
        second = corrected(bench, made, make_entry(levels={"isolation": 3}))
        assert (second.revision, second.reason) == (2, "the lint was no adhesive")
        levels = {
            grade.revision: grade.marks.get(criterion__code="isolation").level
            for grade in Grade.objects.all()
        }
        assert levels == {1: 2, 2: 3}
        assert letters == [first.pk, second.pk]

    def test_it_leaves_before_after_and_why_in_the_audit(self, bench: Bench, made: PracticeSet):
        signed(bench, made)
        corrected(bench, made, make_entry(levels={"isolation": 3}))
        entry = AuditEntry.objects.get(action="correct_marks")
        assert (entry.before["levels"]["isolation"], entry.after["levels"]["isolation"]) == (2, 3)
        assert (entry.reason, entry.actor) == ("the lint was no adhesive", bench.educator)

    def test_without_a_reason_nothing_is_corrected(self, bench: Bench, made: PracticeSet):
        signed(bench, made)
        with pytest.raises(MarksIncomplete) as no:
            corrected(bench, made, reason="  ")
        assert problems(no) == {"reason": "Say why the signed marks are corrected."}
        assert Grade.objects.count() == 1

    def test_a_stale_correction_is_told_who_was_first(self, bench: Bench, made: PracticeSet, cast: Cast):
        signed(bench, made)
        corrected(bench, made, actor=cast.second)
        with pytest.raises(AlreadySigned, match=r"Tova Lind has signed .* \(revision 2\)"):
            corrected(bench, made, make_entry(levels={"wrap": 1}))
        assert Grade.objects.count() == 2

    def test_one_correction_sent_twice_is_signed_once(self, bench: Bench, made: PracticeSet):
        signed(bench, made)
        once, twice = corrected(bench, made), corrected(bench, made, now=NOW + 2 * MINUTE)
        assert once == twice and Grade.objects.count() == 2

    def test_only_signed_marks_are_corrected(self, bench: Bench, made: PracticeSet):
        with pytest.raises(NotHere):
            corrected(bench, made)

    def test_standings_follow_the_correction(self, bench: Bench, made: PracticeSet):
        signed(bench, made)
        isolation = SkillStanding.objects.filter(student=bench.student, skill__code="isolation")
        before = isolation.get().level or 0
        corrected(bench, made, make_entry(levels={"isolation": 4}))
        assert (isolation.get().level or 0) > before > 0


class TestSignedMarksAreFinal:
    @pytest.mark.parametrize("model", [Grade, Mark])
    def test_no_row_is_changed_or_removed(self, bench: Bench, model):
        graded_set(bench)
        row = model.objects.first()
        refusals = (
            row.save,
            row.delete,
            lambda: model.objects.filter(pk=row.pk).update(pk=row.pk),
            model.objects.filter(pk=row.pk).delete,
            lambda: model.objects.bulk_update([row], ["id"]),
        )
        for refused in refusals:
            with pytest.raises(RecordIsFinal, match="Add a correction with its reason instead"):
                refused()
        assert model.objects.filter(pk=row.pk).exists()

    def test_events_and_audit_entries_are_final_too(self, bench: Bench, made: PracticeSet):
        for row in (made.events.first(), AuditEntry.objects.first()):
            assert row is not None
            with pytest.raises(RecordIsFinal):
                row.save()
            with pytest.raises(RecordIsFinal):
                type(row).objects.filter(pk=row.pk).update(id=row.pk)


def test_what_was_entered_is_kept_as_it_was_signed(bench: Bench, made: PracticeSet, cast: Cast):
    entry = make_entry(levels={"isolation": 1}, note="<b>two</b> & more")
    assert signed(bench, made, entry).entry == as_data(entry)
    other = make_bench(cast, cast.bea, head="Head 2")
    assert graded_set(other).note == ""


def test_many_missed_critical_lines_are_all_named_in_the_mark(bench: Bench, cast: Cast):
    draft = rubric_draft(cast.academy, cast.owner)
    lines = [LineContent("", f"Line {number} of a long list", True) for number in range(80)]
    change_hygiene_lines(version=draft, lines=lines, actor=cast.owner, now=STARTED)
    publish_rubric_version(version=draft, actor=cast.owner, now=STARTED)
    made = inspected_set(bench, at=STARTED + MINUTE)
    codes = tuple(draft.hygiene_lines.values_list("code", flat=True))
    grade = signed(bench, made, replace(make_entry(), lines_missed=codes), now=NOW + MINUTE)
    hygiene = grade.marks.get(criterion__kind="lines", level=0)
    assert "80 critical lines missed" in hygiene.words and codes[-1] in hygiene.words


def test_a_set_of_a_student_who_left_meanwhile_is_still_finished_and_marked(bench: Bench, cast: Cast):
    made, end = working_set(bench), STARTED + 60 * MINUTE
    end_membership(actor=cast.owner, member=bench.student, now=STARTED + MINUTE)
    happens(bench, made, [event("finish", end)], now=end)
    looks = [event("position", end, **clean(position)) for position in positions_of(made)]
    happens(bench, made, [*looks, event("inspect", end)], now=end)
    assert signed(bench, made).practice_set.state == "graded"
