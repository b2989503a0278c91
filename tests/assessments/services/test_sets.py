"""Opening a set, and the events of its life: each stands alone, and a repeat changes nothing."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest

from academy.errors import DomainError, NotHere
from academy.models import AuditEntry
from assessments.models import PracticeSet, SetEvent
from assessments.scoring.evidence import ScoringInputError
from assessments.services.sets import FormUsed, HeadInUse, SetAlreadyOpen, open_set
from courses.services.briefs import retire_brief
from courses.services.heads import fit_new_strip, retire_head
from tests.factories.academy import Cast
from tests.factories.assessments import CONDITIONS, STARTED, Bench
from tests.factories.bench import (
    apply,
    event,
    finished_set,
    happens,
    inspected_set,
    make_bench,
    open_ready_set,
    setup_of,
    why,
    working_set,
)
from tests.factories.courses import make_brief, make_head

HOUR = timedelta(hours=1)
MINUTE = timedelta(minutes=1)


def opened(bench: Bench, *, at: datetime = STARTED, uid=None, **changes) -> PracticeSet:
    return open_set(actor=bench.educator, setup=setup_of(bench, **changes), uid=uid or uuid4(), now=at)


class TestOpening:
    def test_a_set_keeps_all_it_needs_to_be_identified_later(self, bench: Bench):
        made = opened(bench)
        assert (made.state, made.number, made.academy) == ("ready", 1, bench.academy)
        assert (made.student, made.opened_by, made.head) == (bench.student, bench.educator, bench.head)
        assert (made.brief, made.rubric.rubric.name) == (bench.brief, "Starter rubric")
        assert made.strip_fitted_on == bench.head.strip_fitted_on
        assert (made.adhesive_lot, made.adhesive_opened_on) == ("K-2201", date(2026, 1, 26))
        assert (made.adhesive_days, made.room_c, made.room_rh) == (28, Decimal("21.0"), 50)

    def test_it_leaves_one_audit_entry_of_keys_without_names(self, bench: Bench):
        made = opened(bench)
        entry = AuditEntry.objects.get(action="open_set")
        assert (entry.actor, entry.object_id, entry.at) == (bench.educator, str(made.pk), STARTED)
        assert entry.after == {
            "student": bench.student.pk, "head": bench.head.pk, "brief": bench.brief.pk
        }  # fmt: skip

    def test_the_same_form_sent_twice_opens_one_set(self, bench: Bench):
        uid = uuid4()
        first = opened(bench, uid=uid)
        assert opened(bench, uid=uid, at=STARTED + MINUTE) == first
        assert PracticeSet.objects.count() == 1
        assert AuditEntry.objects.filter(action="open_set").count() == 1

    def test_a_form_gone_back_to_and_changed_is_refused_instead_of_opening_the_wrong_set(
        self, bench: Bench, cast: Cast
    ):
        uid = uuid4()
        opened(bench, uid=uid)
        with pytest.raises(FormUsed):
            opened(bench, uid=uid, student_id=cast.bea.pk)

    def test_a_form_key_of_another_academy_opens_nothing_and_tells_nothing(self, bench: Bench, cast: Cast):
        made = opened(bench)
        with pytest.raises(FormUsed) as refused:
            open_set(actor=cast.omar, setup=setup_of(bench), uid=made.uid, now=STARTED)
        assert "Ada" not in refused.value.message

    def test_a_student_has_one_set_under_way(self, bench: Bench, cast: Cast):
        opened(bench)
        with pytest.raises(
            SetAlreadyOpen, match=r"set 1 is still under way\. Finish or abandon it first"
        ) as no:
            opened(bench, head_id=make_head(cast.academy, "Head 2").pk)
        assert no.value.details["field"] == "student"

    def test_a_head_carries_one_set_until_it_is_inspected(self, bench: Bench, cast: Cast):
        finished_set(bench)
        with pytest.raises(HeadInUse, match="set 1 of Ada Marsh, not yet inspected") as no:
            opened(bench, student_id=cast.bea.pk)
        assert no.value.details["field"] == "head"

    def test_after_the_finish_the_student_may_open_the_next_on_another_head(self, bench: Bench, cast: Cast):
        finished_set(bench)
        assert opened(bench, head_id=make_head(cast.academy, "Head 2").pk, at=STARTED + 9 * HOUR).number == 2

    def test_the_target_follows_the_stage_of_the_student_on_this_brief(self, bench: Bench, cast: Cast):
        # The brief of the factory: 300 minutes from the 1st set, 240 from the 4th.
        targets = []
        for day in range(4):
            made = inspected_set(bench, at=STARTED + timedelta(days=day))
            targets.append(made.target_s // 60)
        assert targets == [300, 300, 300, 240]

    def test_a_new_strip_counts_for_the_next_set_and_not_for_those_before(self, bench: Bench):
        before = inspected_set(bench)
        fit_new_strip(head=bench.head, fitted_on=date(2026, 2, 2), actor=bench.educator, now=STARTED)
        after = opened(bench, at=STARTED + 9 * HOUR)
        before.refresh_from_db()
        assert (before.strip_fitted_on, after.strip_fitted_on) == (date(2026, 1, 5), date(2026, 2, 2))

    def test_a_retired_head_is_refused_by_name(self, bench: Bench):
        retire_head(head=bench.head, actor=bench.educator, now=STARTED)
        with pytest.raises(DomainError, match=r"Head 1 has been retired\. Choose another head") as no:
            opened(bench)
        assert (no.value.code, no.value.details["field"]) == ("head_retired", "head")

    def test_a_retired_brief_is_refused_by_name(self, bench: Bench):
        retire_brief(brief=bench.brief.brief, actor=bench.educator, now=STARTED)
        with pytest.raises(DomainError, match=r"Soft volume has been retired\. Choose another brief") as no:
            opened(bench)
        assert (no.value.code, no.value.details["field"]) == ("brief_retired", "brief")

    def test_a_bottle_opened_tomorrow_is_refused(self, bench: Bench):
        tomorrow = replace(CONDITIONS, adhesive_opened_on=date(2026, 2, 3))
        with pytest.raises(DomainError, match="after today") as no:
            opened(bench, conditions=tomorrow)
        assert no.value.details["field"] == "adhesive_opened_on"

    def test_today_is_the_day_of_the_academy(self, bench: Bench):
        tomorrow_in_utc = replace(CONDITIONS, adhesive_opened_on=date(2026, 2, 3))
        late = datetime(2026, 2, 2, 13, 0, tzinfo=UTC)  # already 3 February in Auckland, 13 hours ahead
        bench.educator.academy.time_zone = "Pacific/Auckland"
        assert opened(bench, conditions=tomorrow_in_utc, at=late).adhesive_opened_on == date(2026, 2, 3)

    def test_impossible_humidity_never_reaches_a_set(self):
        with pytest.raises(ScoringInputError, match="140 % is not possible"):
            replace(CONDITIONS, room_rh=140)

    def test_a_student_who_has_left_cannot_practise(self, bench: Bench):
        bench.student.left_at = STARTED
        bench.student.save(update_fields=["left_at"])
        with pytest.raises(NotHere):
            opened(bench)

    def test_an_educator_cannot_be_the_student(self, bench: Bench, cast: Cast):
        with pytest.raises(NotHere):
            opened(bench, student_id=cast.second.pk)

    @pytest.mark.parametrize("foreign", ["student_id", "head_id", "brief_id"])
    def test_nothing_of_another_academy_can_be_picked(self, bench: Bench, cast: Cast, foreign):
        keys: dict[str, Any] = {
            "student_id": cast.omar_student.pk,
            "head_id": make_head(cast.other_academy, "Head 1").pk,
            "brief_id": make_brief(cast.other_academy, cast.omar).brief_id,
        }
        with pytest.raises(NotHere):
            opened(bench, **{foreign: keys[foreign]})
        assert not PracticeSet.objects.exists()

    def test_an_academy_without_a_rubric_is_told_where_to_publish_one(self, cast: Cast):
        brief = make_brief(cast.other_academy, cast.omar)
        there = Bench(cast.omar_student, cast.omar, brief, make_head(cast.other_academy))
        with pytest.raises(DomainError, match="publishes one under Rubrics"):
            opened(there)


class TestWork:
    def test_the_events_of_a_set_are_kept_in_order_with_who_and_when(self, bench: Bench):
        made = open_ready_set(bench)
        at = [STARTED + number * HOUR for number in range(5)]
        kinds = ["start", "pause", "resume", "split", "finish"]
        told: dict[str, dict[str, Any]] = {
            "pause": {"reason": "break"},
            "split": {"eye": "left", "layer": "top"},
        }
        happens(
            bench,
            made,
            [event(kind, then, **told.get(kind, {})) for kind, then in zip(kinds, at, strict=True)],
            now=at[-1] + HOUR,
        )
        kept = list(made.events.values_list("kind", "at", "received_at", "actor_id"))
        assert kept == [
            (kind, then, at[-1] + HOUR, bench.educator.pk) for kind, then in zip(kinds, at, strict=True)
        ]
        assert (made.state, made.started_at, made.finished_at) == ("finished", at[0], at[4])
        assert made.worked_s == 3 * 3600  # four hours less the hour of pause

    def test_abandoning_needs_a_reason_and_leaves_it_in_the_audit(self, bench: Bench):
        made = working_set(bench)
        (no,) = apply(bench, made, [event("abandon", STARTED, reason="  ")], now=STARTED)
        assert (why(no).code, made.state) == ("no_reason", "working")
        happens(bench, made, [event("abandon", STARTED, reason="strip tore")], now=STARTED)
        entry = AuditEntry.objects.get(action="abandon_set")
        assert (entry.reason, entry.object_id, made.state) == ("strip tore", str(made.pk), "abandoned")

    def test_marks_are_not_signed_by_an_event(self, bench: Bench):
        made = inspected_set(bench)
        (no,) = apply(bench, made, [event("grade")], now=STARTED + 9 * HOUR)
        assert (why(no).code, made.state) == ("sign_on_the_page", "inspected")

    @pytest.mark.parametrize(
        "data", [{}, {"eye": "third", "layer": "top"}, {"eye": "left", "layer": "middle"}]
    )
    def test_a_split_names_an_eye_and_a_layer_of_the_brief(self, bench: Bench, data):
        made = working_set(bench)
        (no,) = apply(bench, made, [event("split", STARTED, **data)], now=STARTED)
        assert (no.status, why(no).code) == ("refused", "bad_split")

    def test_events_of_another_academys_set_are_refused_as_not_here(self, bench: Bench, cast: Cast):
        made = open_ready_set(bench)
        outsider = replace(bench, educator=cast.omar)
        with pytest.raises(NotHere):
            apply(outsider, made, [event("start", STARTED)], now=STARTED)
        assert not SetEvent.objects.exists()


class TestRepeats:
    def test_a_batch_sent_twice_changes_nothing_the_second_time(self, bench: Bench):
        made = open_ready_set(bench)
        batch = [event("start", STARTED), event("pause", STARTED + HOUR), event("resume", STARTED + 2 * HOUR)]
        now = STARTED + 3 * HOUR
        assert [result.status for result in apply(bench, made, batch, now=now)] == ["applied"] * 3
        before = PracticeSet.objects.values().get()
        assert [result.status for result in apply(bench, made, batch, now=now + HOUR)] == ["repeated"] * 3
        assert PracticeSet.objects.values().get() == before
        assert SetEvent.objects.count() == 3

    def test_one_event_twice_in_a_batch_counts_once(self, bench: Bench):
        made = open_ready_set(bench)
        start = event("start", STARTED)
        results = apply(bench, made, [start, start], now=STARTED)
        assert [result.status for result in results] == ["applied", "repeated"]

    def test_a_repeat_after_the_set_has_moved_on_is_still_only_a_repeat(self, bench: Bench):
        made = open_ready_set(bench)
        start = event("start", STARTED)
        happens(bench, made, [start], now=STARTED)
        happens(bench, made, [event("finish", STARTED + HOUR)], now=STARTED + HOUR)
        (again,) = apply(bench, made, [start], now=STARTED + 2 * HOUR)
        assert (again.status, made.state) == ("repeated", "finished")

    def test_a_refused_event_may_be_sent_again_once_it_fits(self, bench: Bench):
        made = open_ready_set(bench)
        pause = event("pause", STARTED + HOUR)
        (no,) = apply(bench, made, [pause], now=STARTED + HOUR)
        assert (no.status, why(no).code) == ("refused", "not_now")
        happens(bench, made, [event("start", STARTED)], now=STARTED + HOUR)
        happens(bench, made, [pause], now=STARTED + HOUR)
        assert made.state == "paused"

    def test_an_event_key_of_another_set_is_refused(self, bench: Bench, cast: Cast):
        start = event("start", STARTED)
        happens(bench, open_ready_set(bench), [start], now=STARTED)
        other = make_bench(cast, cast.bea, head="Head 2")
        second = open_ready_set(other)
        (no,) = apply(other, second, [start], now=STARTED)
        assert (no.status, why(no).code, second.state) == ("refused", "event_elsewhere", "ready")

    def test_each_event_of_a_batch_stands_or_falls_alone(self, bench: Bench):
        made = open_ready_set(bench)
        batch = [
            event("resume", STARTED),
            event("start", STARTED),
            event("inspect", STARTED),
            event("dance", STARTED),
            replace(event("pause", STARTED), unreadable="Half of this is missing. Reload the page."),
            event("pause", STARTED + HOUR),
        ]
        results = apply(bench, made, batch, now=STARTED + HOUR)
        assert [result.status for result in results] == [
            "refused", "applied", "refused", "refused", "refused", "applied"
        ]  # fmt: skip
        assert all(why(result).message.endswith(".") for result in results if result.problem)
        assert (made.state, list(made.events.values_list("kind", flat=True))) == (
            "paused",
            ["start", "pause"],
        )

    def test_a_refused_event_leaves_everything_as_it_was(self, bench: Bench):
        made = finished_set(bench)
        before = PracticeSet.objects.values().get(), SetEvent.objects.count(), AuditEntry.objects.count()
        now = STARTED + 5 * HOUR
        refused = [event(kind, now) for kind in ("start", "pause", "resume", "finish", "inspect", "abandon")]
        assert {result.status for result in apply(bench, made, refused, now=now)} == {"refused"}
        assert (
            PracticeSet.objects.values().get(),
            SetEvent.objects.count(),
            AuditEntry.objects.count(),
        ) == before
