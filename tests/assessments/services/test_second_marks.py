"""The second look stands apart: repeatable, final once signed, no trace of it in what the student has."""

from typing import Any
from uuid import uuid4

import pytest
from django.forms.models import model_to_dict

from academy.errors import Conflict, DomainError, NotHere
from academy.models import Membership
from assessments.models import (
    CompetenceDecision,
    Grade,
    Mark,
    MarkingDraft,
    PracticeSet,
    SecondGrade,
    SecondLevel,
    SecondMark,
    SecondMarkEvent,
    SetEvent,
    SkillStanding,
)
from assessments.scoring.entry import MarkEntry, as_data
from assessments.services.marking import MarksIncomplete
from assessments.services.second_marks import (
    apply_second_events,
    note_on_second_mark,
    save_second_draft,
    sign_second_mark,
)
from assessments.services.sets import BenchEvent
from tests.factories.academy import Cast
from tests.factories.assessments import Bench
from tests.factories.bench import BARE, clean, faulty, graded_set, make_bench
from tests.factories.second_marks import (
    LATER,
    give_second_mark,
    inspect_second,
    second_entry,
    second_positions,
    sign_second,
)


@pytest.fixture
def second(bench: Bench, cast: Cast) -> SecondMark:
    """Two stuck fans in the first look; Tova is to mark it blind."""
    grade = graded_set(bench, found={0: faulty("STK"), 1: faulty("STK")})
    return give_second_mark(grade, cast.second)


def send(second: SecondMark, *events: BenchEvent, by: Membership | None = None):
    actor = by or second.assigned_to
    return apply_second_events(actor=actor, uid=second.uid, events=events, now=LATER)


def position(second: SecondMark, index: int, uid=None, **found) -> BenchEvent:
    place = second_positions(second)[index]
    return BenchEvent(uid or uuid4(), "position", LATER, {**clean(place), **found})


def what_the_student_has() -> dict[str, list[object]]:
    rows = (Grade, Mark, SkillStanding, CompetenceDecision, PracticeSet, SetEvent, MarkingDraft)
    return {model.__name__: [model_to_dict(row) for row in model.objects.order_by("pk")] for model in rows}


def test_nothing_the_student_has_changes_from_the_draw_to_the_signature(bench: Bench, cast: Cast):
    grade = graded_set(bench)
    before = what_the_student_has()
    second = inspect_second(give_second_mark(grade, cast.second), found={0: BARE, 5: faulty("STK")})
    save_second_draft(actor=cast.second, uid=second.uid, entry=second_entry(), now=LATER)
    sign_second(second, {"isolation": 0, "wrap": 0})
    assert what_the_student_has() == before
    assert before["Mark"] and before["SkillStanding"]


class TestLooking:
    def test_a_finding_is_kept_on_the_second_look_alone(self, second: SecondMark):
        first = SecondMark.objects.get().practice_set.inspections.get(is_blind=False)
        (result,) = send(second, position(second, 2, **faulty("STK")))
        assert result.status == "applied"
        assert [p.finding for p in second_positions(second)[:3]] == ["unseen", "unseen", "faulty"]
        assert [p.finding for p in first.positions.all()[:3]] == ["faulty", "faulty", "clean"]

    def test_an_event_sent_twice_changes_nothing_even_in_one_batch(self, second: SecondMark):
        event = position(second, 0)
        assert [r.status for r in send(second, event, event)] == ["applied", "repeated"]
        assert [r.status for r in send(second, event)] == ["repeated"]
        assert SecondMarkEvent.objects.count() == 1

    def test_an_event_of_another_second_mark_is_refused(self, second: SecondMark, cast: Cast):
        event = position(second, 0)
        send(second, event)
        other = give_second_mark(graded_set(make_bench(cast, head="Head 2"), at=LATER), cast.second)
        assert send(other, event)[0].status == "refused"

    def test_closing_with_places_left_is_refused_and_names_them(self, second: SecondMark):
        (refused,) = send(second, BenchEvent(uuid4(), "inspect", LATER))
        assert "40 of 40" in refused.problem.message
        assert not SecondMarkEvent.objects.exists()

    def test_once_closed_nothing_found_changes(self, second: SecondMark):
        second = inspect_second(second)
        assert [r.status for r in send(second, position(second, 0, **faulty("STK")))] == ["refused"]
        assert [r.status for r in send(second, BenchEvent(uuid4(), "inspect", LATER))] == ["refused"]

    def test_a_second_look_has_no_clock(self, second: SecondMark):
        assert send(second, BenchEvent(uuid4(), "finish", LATER))[0].problem.code == "not_now"

    def test_what_cannot_be_read_is_refused_with_its_sentence(self, second: SecondMark):
        unreadable = BenchEvent(uuid4(), "", unreadable="No index.")
        assert send(second, unreadable)[0].problem.message == "No index."

    @pytest.mark.parametrize("who", ["ines", "owner", "omar"])
    def test_it_belongs_to_the_one_it_was_given_to(self, second: SecondMark, cast: Cast, who: str):
        with pytest.raises(NotHere):
            send(second, by=getattr(cast, who))


class TestSigning:
    def test_levels_come_from_the_second_look_not_from_the_first(self, second: SecondMark):
        sign_second(inspect_second(second, found={0: faulty("STK")}))
        levels = dict(SecondLevel.objects.values_list("criterion__code", "level"))
        first = dict(Mark.objects.values_list("criterion__code", "level"))
        # Starter rubric: 2 of 40 stuck is level 2, 1 of 40 level 3.
        assert (first["isolation"], levels["isolation"]) == (2, 3)

    def test_time_is_not_marked_twice_and_hygiene_may_stay_open(self, second: SecondMark):
        sign_second(inspect_second(second))
        codes = set(SecondLevel.objects.values_list("criterion__code", flat=True))
        assert codes.isdisjoint({"time", "hygiene"}) and {"isolation", "product"} <= codes

    def test_a_level_against_the_proposal_needs_its_reason(self, second: SecondMark):
        entry = MarkEntry(levels={"isolation": 0})
        with pytest.raises(MarksIncomplete, match="reason"):
            sign_second_mark(
                actor=second.assigned_to,
                uid=inspect_second(second).uid,
                entry=entry,
                event_uid=uuid4(),
                now=LATER,
            )

    def test_before_the_look_is_closed_there_is_nothing_to_sign(self, second: SecondMark):
        with pytest.raises(Conflict, match="Close the inspection"):
            sign_second(second)

    def test_a_form_sent_twice_signs_once_and_a_new_one_is_refused(self, second: SecondMark):
        inspect_second(second)
        form: dict[str, Any] = {
            "actor": second.assigned_to,
            "uid": second.uid,
            "entry": second_entry(),
            "now": LATER,
        }
        uid = uuid4()
        assert sign_second_mark(**form, event_uid=uid) == sign_second_mark(**form, event_uid=uid)
        with pytest.raises(Conflict):
            sign_second_mark(**form, event_uid=uuid4())
        assert SecondGrade.objects.count() == 1

    def test_a_draft_is_kept_until_the_signature(self, second: SecondMark):
        entry = second_entry(note="A twist at the third fan")
        kept = save_second_draft(actor=second.assigned_to, uid=second.uid, entry=entry, now=LATER)
        assert (kept.draft, kept.draft_saved_at) == (as_data(entry), LATER)
        sign_second(inspect_second(second))
        second.refresh_from_db()
        assert (second.state, second.draft, second.draft_saved_at) == ("done", {}, None)
        with pytest.raises(Conflict):
            save_second_draft(actor=second.assigned_to, uid=second.uid, entry=entry, now=LATER)


class TestTalking:
    def test_notes_stay_in_their_order(self, second: SecondMark, cast: Cast):
        sign_second(inspect_second(second))
        second.refresh_from_db()
        for who, text in ((cast.ines, " It was lint. "), (cast.second, "Agreed.")):
            note_on_second_mark(actor=who, second_mark=second, text=text, now=LATER)
        assert [note.text for note in second.notes.all()] == ["It was lint.", "Agreed."]

    def test_there_is_nothing_to_talk_about_before_the_signature(self, second: SecondMark, cast: Cast):
        with pytest.raises(Conflict):
            note_on_second_mark(actor=cast.ines, second_mark=second, text="Look at the base", now=LATER)

    @pytest.mark.parametrize("text", ["", "   ", "x" * 2001])
    def test_a_note_says_something_and_not_too_much(self, second: SecondMark, cast: Cast, text: str):
        sign_second(inspect_second(second))
        second.refresh_from_db()
        with pytest.raises(DomainError):
            note_on_second_mark(actor=cast.ines, second_mark=second, text=text, now=LATER)
