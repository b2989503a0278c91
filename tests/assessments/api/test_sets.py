"""The doors the bench's scripts use: set document, events, drafts."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from academy.models import Membership
from assessments.models import Grade, MarkingDraft, PracticeSet, SetEvent
from tests.factories.academy import Cast, make_member, sign_in
from tests.factories.assessments import Bench
from tests.factories.bench import (
    faulty,
    finished_set,
    graded_set,
    inspected_set,
    make_bench,
    open_ready_set,
    working_set,
)

HOUR = timedelta(hours=1)
SignIn = Callable[[Membership], Client]
JSON = "application/json"


@pytest.fixture
def began() -> datetime:
    """These doors read the clock, so the sets behind them begin this morning."""
    return timezone.now() - 6 * HOUR


@pytest.fixture
def ines(bench: Bench, client_for: SignIn) -> Client:
    return client_for(bench.educator)


def url(door: str, made: PracticeSet) -> str:
    return reverse(f"api:{door}", args=[made.uid])


def step(kind: str, at: datetime | None = None, **data: object) -> dict[str, Any]:
    return {"uid": str(uuid4()), "kind": kind, "at": at.isoformat() if at else None, **data}


def send(client: Client, made: PracticeSet, *events: object):
    return client.post(url("set-events", made), {"events": list(events)}, content_type=JSON)


def save(client: Client, made: PracticeSet, data: object, base: str | None = None):
    return client.put(url("set-draft", made), {"data": data, "base": base}, content_type=JSON)


NO_BATCHES: list[dict[str, object]] = [
    {},
    {"events": []},
    {"events": "start"},
    {"events": [7]},
    {"events": [{"kind": "start"}]},
    {"events": [{"uid": "7", "kind": "start"}]},
    {"events": [{"uid": str(uuid4()), "kind": "start"}] * 501},
]
IMPOSSIBLE: list[dict[str, Any]] = [
    *({"gap_mm": value} for value in (-1, 25, "NaN", "wide")),
    {"gap_mm": [1]},
    *({"direction_deg": value} for value in (200, -1, "NaN", "left")),
    *({"found_length_mm": value} for value in (2, 40, 9.25, -9, "NaN", "nine")),
]


class TestWhoMayEnter:
    DOORS = (("get", "set"), ("post", "set-events"), ("put", "set-draft"))

    @pytest.mark.parametrize(("method", "door"), DOORS)
    def test_students_and_strangers_are_refused(self, bench: Bench, began, client_for, method, door):
        made = finished_set(bench, at=began)
        for client in (client_for(bench.student), Client()):
            answer = getattr(client, method)(url(door, made), {}, content_type=JSON)
            assert (answer.status_code, answer["Content-Type"]) == (403, "application/problem+json")

    @pytest.mark.parametrize(("method", "door"), DOORS)
    def test_a_set_of_another_academy_is_not_there(
        self, bench: Bench, cast: Cast, began, client_for, method, door
    ):
        made = finished_set(bench, at=began)
        bodies = {"set": {}, "set-events": {"events": [step("start")]}, "set-draft": {"data": {}}}
        answer = getattr(client_for(cast.omar), method)(url(door, made), bodies[door], content_type=JSON)
        assert (answer.status_code, answer.json()["title"]) == (404, "not_here")
        assert "Ada" not in answer.content.decode()
        assert SetEvent.objects.filter(actor=cast.omar).count() == MarkingDraft.objects.count() == 0

    def test_an_educator_who_has_left_is_refused(self, bench: Bench, began, ines: Client):
        made = open_ready_set(bench, at=began)
        bench.educator.left_at = began
        bench.educator.save(update_fields=["left_at"])
        assert ines.get(url("set", made)).status_code == 403

    def test_an_event_without_the_page_token_is_refused(self, bench: Bench, began):
        client = Client(enforce_csrf_checks=True)
        sign_in(client, bench.educator)
        answer = send(client, open_ready_set(bench, at=began), step("start"))
        assert answer.status_code == 403 and not SetEvent.objects.exists()


class TestEvents:
    def test_events_are_applied_in_order_and_answered_one_by_one(self, bench: Bench, began, ines: Client):
        made = open_ready_set(bench, at=began)
        batch = [
            step("start", began),
            step("pause", began + HOUR, reason="break"),
            step("resume", began + 2 * HOUR),
            step("split", began + 3 * HOUR, eye="left", layer="top"),
            step("finish", began + 3 * HOUR),
        ]
        answer = send(ines, made, *batch).json()
        assert answer["results"] == [{"uid": e["uid"], "status": "applied", "problem": None} for e in batch]
        clock = answer["set"]["clock"]
        assert (answer["set"]["state"], clock["worked_s"], clock["paused_s"]) == ("finished", 7200, 3600)
        assert clock["splits"] == [{"eye": "left", "layer": "top", "worked_s": 7200, "total_s": 7200}]
        assert len(answer["set"]["inspection"]["positions"]) == 40

    def test_a_batch_sent_again_is_answered_as_repeated(self, bench: Bench, began, ines: Client):
        made = open_ready_set(bench, at=began)
        batch = [step("start", began), step("finish", began + HOUR)]
        first = send(ines, made, *batch).json()
        second = send(ines, made, *batch).json()
        assert [result["status"] for result in second["results"]] == ["repeated", "repeated"]
        for answer in (first, second):
            answer["set"].pop("server_now")
        assert first["set"] == second["set"]

    def test_a_refused_event_says_why_and_the_others_stand(self, bench: Bench, began, ines: Client):
        made = open_ready_set(bench, at=began)
        answer = send(ines, made, step("resume", began), step("start", began)).json()
        refused, applied = answer["results"]
        assert (refused["status"], refused["problem"]["title"]) == ("refused", "not_now")
        assert refused["problem"]["detail"] == "This set has not started yet. Start it first."
        assert (applied["status"], answer["set"]["state"]) == ("applied", "working")

    @pytest.mark.parametrize(
        "broken",
        [
            {"kind": "dance"},
            {"kind": None},
            {"at": "yesterday"},
            {"reason": "x" * 501},
            {"reason": "nul \0 byte"},
            {"reason": {"why": "tea"}},
            {"index": "first"},
            {"faults": "STK"},
            {"faults": [{"code": "STK"}]},
        ],
    )
    def test_an_event_that_cannot_be_read_falls_alone(self, bench: Bench, began, ines: Client, broken):
        made = open_ready_set(bench, at=began)
        answer = send(ines, made, {**step("start", began), **broken}, step("start", began))
        assert answer.status_code == 200
        refused, applied = answer.json()["results"]
        assert (refused["status"], refused["problem"]["title"]) == ("refused", "bad_event")
        assert refused["problem"]["detail"].endswith(".")
        assert applied["status"] == "applied"

    @pytest.mark.parametrize("measure", IMPOSSIBLE)
    def test_an_impossible_measure_is_refused_with_a_sentence(
        self, bench: Bench, began, ines: Client, measure
    ):
        made = finished_set(bench, at=began)
        answer = send(ines, made, step("position", index=0, finding="clean", **measure)).json()
        (result,) = answer["results"]
        assert result["status"] == "refused" and result["problem"]["detail"].endswith(".")
        assert answer["set"]["inspection"]["positions"][0]["finding"] == "unseen"

    @pytest.mark.parametrize("body", NO_BATCHES)
    def test_a_batch_that_is_none_is_refused_whole(self, bench: Bench, began, ines: Client, body):
        answer = ines.post(url("set-events", open_ready_set(bench, at=began)), body, content_type=JSON)
        assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")
        assert answer.json()["errors"][0]["pointer"].startswith("#/events")
        assert not SetEvent.objects.exists()

    def test_text_that_is_no_json_is_refused(self, bench: Bench, began, ines: Client):
        door = url("set-events", open_ready_set(bench, at=began))
        for body in ("{", '{"events": NaN}'):
            assert ines.post(door, body, content_type=JSON).status_code == 400

    def test_a_clock_an_hour_ahead_is_told_so(self, bench: Bench, began, ines: Client):
        made = open_ready_set(bench, at=began)
        (result,) = send(ines, made, step("start", timezone.now() + HOUR)).json()["results"]
        assert result["problem"]["title"] == "clock_wrong"

    def test_finding_after_finding_reaches_the_proposal(self, bench: Bench, began, ines: Client):
        made = finished_set(bench, at=began)
        answer = send(
            ines,
            made,
            *(step("position", index=number, finding="faulty", faults=["STK"]) for number in range(2)),
            *(step("position", index=number, finding="clean") for number in range(2, 40)),
            step("inspect"),
        ).json()
        assert answer["set"]["state"] == "inspected"
        isolation = next(row for row in answer["set"]["proposals"] if row["code"] == "isolation")
        assert (isolation["level"], isolation["words"][:12]) == (2, "2 stuck of 4")


class TestDrafts:
    def test_a_draft_is_answered_with_what_it_means(self, bench: Bench, began, ines: Client):
        made = inspected_set(bench, at=began, found={0: faulty("STK")})
        answer = save(ines, made, {"lines_missed": ["tweezers"], "levels": {"product": 3}, "note": "<b>"})
        assert answer.status_code == 200
        body = answer.json()
        assert body["draft"]["data"]["note"] == "<b>" and body["draft"]["saved_by"] == "Ines Carvalho"
        gates = {gate["code"]: (gate["level"], gate["passed"]) for gate in body["verdict"]["gates"]}
        assert gates["hygiene"] == (0, False) and gates["product"] == (3, True)
        assert body["drills"][0]["code"] == "hold-and-check"

    def test_saving_on_what_was_read_last_works_to_the_microsecond(
        self, bench: Bench, began, client_for, cast: Cast
    ):
        made = inspected_set(bench, at=began)
        first = save(client_for(cast.ines), made, {"note": "one"}).json()
        second = save(client_for(cast.second), made, {"note": "two"}, first["draft"]["saved_at"])
        assert second.status_code == 200
        read = client_for(cast.ines).get(url("set", made)).json()["draft"]
        assert (read["data"]["note"], read["saved_at"]) == ("two", second.json()["draft"]["saved_at"])

    def test_somebody_elses_draft_is_a_conflict_that_carries_it(
        self, bench: Bench, began, client_for, cast: Cast
    ):
        made = inspected_set(bench, at=began)
        base = save(client_for(cast.ines), made, {"note": "hers"}).json()["draft"]["saved_at"]
        save(client_for(cast.second), made, {"note": "theirs"}, base)
        answer = save(client_for(cast.ines), made, {"note": "hers again"}, base)
        assert (answer.status_code, answer["Content-Type"]) == (409, "application/problem+json")
        assert answer.json()["current"]["data"]["note"] == "theirs"
        assert "Tova Lind has saved other marks" in answer.json()["detail"]
        assert MarkingDraft.objects.get().data["note"] == "theirs"

    def test_the_own_second_tab_may_go_on(self, bench: Bench, began, ines: Client):
        made = inspected_set(bench, at=began)
        save(ines, made, {"note": "first tab"})
        assert save(ines, made, {"note": "second tab"}).status_code == 200

    @pytest.mark.parametrize(
        ("data", "pointer"),
        [
            ({"note": "x" * 10_000}, "#/data/note"),
            ({"note": "\0"}, "#/data/note"),
            ({"levels": {"wrap": 5}}, "#/data/levels"),
            ({"left_count": -3}, "#/data/left_count"),
            ({"lines_missed": "all"}, "#/data/lines_missed"),
        ],
    )
    def test_an_impossible_value_is_refused_with_a_pointer_to_it(
        self, bench: Bench, began, ines: Client, data, pointer
    ):
        answer = save(ines, inspected_set(bench, at=began), data)
        assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")
        (error,) = answer.json()["errors"]
        assert error["pointer"] == pointer and error["detail"].endswith(".")
        assert not MarkingDraft.objects.exists()

    def test_a_set_that_is_not_finished_takes_no_draft(self, bench: Bench, began, ines: Client):
        answer = save(ines, working_set(bench, at=began), {"note": "early"})
        assert (answer.status_code, answer.json()["title"]) == (409, "not_marking")

    def test_a_signed_set_takes_no_draft(self, bench: Bench, began, ines: Client):
        grade = graded_set(bench, at=began)
        assert save(ines, grade.practice_set, {"note": "late"}).status_code == 409
        assert Grade.objects.count() == 1

    def test_a_signed_set_takes_the_draft_of_a_correction_with_its_reason(
        self, bench: Bench, began, ines: Client
    ):
        made = graded_set(bench, at=began).practice_set
        correction = {"revision": 1, "why": "The lint was"}
        body = {"data": {"note": "Better"}, "correction": correction, "base": None}
        assert ines.put(url("set-draft", made), body, content_type=JSON).status_code == 200
        kept = MarkingDraft.objects.get().data
        assert (kept["note"], kept["why"], kept["revision"]) == ("Better", "The lint was", 1)

    def test_a_correction_of_a_revision_that_is_no_longer_the_newest_is_refused(
        self, bench: Bench, began, ines: Client
    ):
        made = graded_set(bench, at=began).practice_set
        body = {"data": {}, "correction": {"revision": 2}, "base": None}
        answer = ines.put(url("set-draft", made), body, content_type=JSON)
        assert (answer.status_code, answer.json()["title"]) == (409, "already_signed")
        assert not MarkingDraft.objects.exists()


class TestPrice:
    @pytest.fixture
    def price(self, django_assert_max_num_queries):
        def count(call, *args) -> int:
            with django_assert_max_num_queries(10_000) as queries:
                assert call(*args).status_code == 200
            return len(queries)

        return count

    def test_a_set_costs_the_same_among_one_and_among_twenty_one(
        self, bench: Bench, cast: Cast, began, ines: Client, price
    ):
        made = inspected_set(bench, at=began)
        doors = [
            (ines.get, url("set", made)),
            (ines.get, reverse("assessments:bench-marks", args=[made.uid])),
        ]
        ines.get(url("set", made))  # the first request of a session also writes to it
        alone = [price(*door) for door in doors], price(send, ines, made, step("inspect"))
        _crowd(bench, cast, began)
        assert ([price(*door) for door in doors], price(send, ines, made, step("inspect"))) == alone

    def test_a_repeated_batch_costs_the_same_for_one_event_and_for_forty(
        self, bench: Bench, began, ines: Client, price
    ):
        made = finished_set(bench, at=began)
        batch = [step("position", index=number, finding="clean") for number in range(40)]
        send(ines, made, *batch)
        assert price(send, ines, made, *batch) == price(send, ines, made, batch[0])


def _crowd(bench: Bench, cast: Cast, began: datetime) -> None:
    """Twenty more students, each with a set under way on a head of its own."""
    for number in range(20):
        student = make_member(cast.academy, f"Student {number}", cohort=cast.cohort)
        working_set(make_bench(cast, student, head=f"Crowd {number}"), at=began)
