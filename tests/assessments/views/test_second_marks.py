"""A blind mark is blind: until she signs, no answer to the second educator tells of the first result."""

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from academy.models import Membership
from assessments.models import Grade, SecondGrade, SecondMark
from tests.architecture.doors import OURS, REFUSED
from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_entry
from tests.factories.bench import faulty, graded_set
from tests.factories.second_marks import LATER, give_second_mark, inspect_second, sign_second

SignIn = Callable[[Membership], Client]
SECRET = "tansy"  # in the note, in the reason of an override: wherever the first result speaks
GAP = 1.37  # measured by the first educator only
OF_THE_SET = {"graded set", "working set", "finished set", "inspected set"}
NEEDS_ANOTHER_OBJECT = {
    *("member", "cohort", "invitation", "token", "standard set", "gate skill", "brief supplies"),
    *("published version", "draft version", "draft criterion"),
    *(
        "certificate",
        "new student",
        "batch",
        "code",
        "key",
        "school",
        "certified programme",
        "status list",
    ),  # looked at in test_certificates.py
    *("programme version", "hours entry", "feed"),
    *("booking", "wait", "exception", "closed day", "time away", "room", "spare room", "kind", "educator"),
    *("need", "plan", "plan line", "line"),
}


@pytest.fixture
def grade(bench: Bench, cast: Cast) -> Grade:
    given = make_entry(levels={"wrap": 1}, note=f"Mind the {SECRET} lamp.")
    entry = replace(given, reasons={"wrap": f"{SECRET} in the base"})
    places = {number: {**faulty("STK"), "gap_mm": GAP} for number in range(12)}
    return graded_set(bench, entry=entry, found=places)


@pytest.fixture
def second(grade: Grade, cast: Cast) -> SecondMark:
    return give_second_mark(grade, cast.second)


@pytest.fixture
def tova(second: SecondMark, cast: Cast, client_for: SignIn) -> Client:
    return client_for(cast.second)


def page(name: str, second: SecondMark) -> str:
    return reverse(f"assessments:{name}", args=[second.uid])


def everything_she_can_read(client: Client, second: SecondMark) -> Iterator[tuple[str, Any]]:
    """Every page of the house that is open to an educator, asked about this set and this student."""
    made = second.practice_set
    keys: dict[str, dict[str, Any]] = {
        **{name: {"uid": made.uid} for name in OF_THE_SET},
        "second mark": {"uid": second.uid},
        "inspected second mark": {"uid": second.uid},
        "student": {"student_id": made.student_id},
        "brief": {"brief_id": made.brief.brief_id},
        "head": {"head_id": made.head_id},
    }
    for name, door in OURS.items():
        if door.educator == REFUSED or door.about in NEEDS_ANOTHER_OBJECT:
            continue
        url = reverse(name, kwargs=keys[door.about] if door.about else None)
        for method in {"GET", *door.methods} & {"GET", "PUT"}:
            body = json.dumps({"data": {}}) if method == "PUT" else ""
            yield name, client.generic(method, url, body, content_type="application/json", follow=True)


def told(answer: Any) -> str:
    return str(answer.content, "latin-1")


def shows_first_result(answer: Any, grade: Grade) -> list[str]:
    text = told(answer)
    signs = {SECRET, str(GAP), f"{grade.score:.0f} of 100", "12 stuck of 40", "12 of 40"}
    return [sign for sign in signs if sign in text]


class TestBlindness:
    def test_no_answer_she_can_reach_says_anything_of_the_first_result(
        self, tova: Client, second: SecondMark, grade: Grade
    ):
        answers = list(everything_she_can_read(tova, second))
        assert len(answers) > 25
        shown = {name: found for name, answer in answers if (found := shows_first_result(answer, grade))}
        assert shown == {}

    def test_the_signs_looked_for_are_there_for_everybody_else(
        self, second: SecondMark, grade: Grade, cast: Cast, client_for: SignIn
    ):
        answers = dict(everything_she_can_read(client_for(cast.ines), second))
        for name in ("assessments:set", "assessments:set-correct", "assessments:student", "api:set"):
            assert shows_first_result(answers[name], grade), name
        for name in ("assessments:today", "assessments:student-sets"):
            assert f"{grade.score:.0f} of 100" in told(answers[name]), name

    @pytest.mark.parametrize("name", ["bench", "bench-inspect", "bench-marks", "set-sheet", "set-correct"])
    def test_pages_of_the_set_say_why_they_are_closed(self, tova: Client, second: SecondMark, name: str):
        answer = tova.get(reverse(f"assessments:{name}", args=[second.practice_set.uid]))
        assert answer.status_code == 403
        assert "You are marking this set blind" in told(answer)

    def test_the_page_of_the_set_leads_to_her_own_look(self, tova: Client, second: SecondMark):
        answer = tova.get(reverse("assessments:set", args=[second.practice_set.uid]), follow=True)
        assert answer.redirect_chain == [(page("second-mark", second), 302)]
        assert "You are marking this set blind" in told(answer)

    @pytest.mark.parametrize(
        ("name", "method", "body"),
        [
            ("api:set", "GET", {}),
            ("api:set-draft", "PUT", {"data": {}}),
            ("api:set-events", "POST", {"events": [{"uid": str(uuid4()), "kind": "pause"}]}),
        ],
    )
    def test_documents_of_the_set_are_refused(self, tova: Client, second: SecondMark, name, method, body):
        url = reverse(name, args=[second.practice_set.uid])
        answer = tova.generic(method, url, json.dumps(body), content_type="application/json")
        assert (answer.status_code, answer.json()["title"]) == (403, "marking_blind")

    def test_marks_sent_to_the_first_result_are_refused(self, tova: Client, second: SecondMark):
        for name in ("bench-marks", "set-correct"):
            url = reverse(f"assessments:{name}", args=[second.practice_set.uid])
            assert tova.post(url, {"reason": "x", "revision": "1"}).status_code == 403
        assert Grade.objects.count() == 1

    def test_her_document_knows_the_places_and_nothing_found_at_them(self, tova: Client, second: SecondMark):
        document = tova.get(reverse("api:second-mark", args=[second.uid])).json()
        assert (document["uid"], document["state"]) == (str(second.uid), "finished")
        assert {place["finding"] for place in document["inspection"]["positions"]} == {"unseen"}
        assert (document["draft"]["data"], document["draft"]["saved_at"]) == ({}, None)
        assert {row["level"] for row in document["proposals"]} == {None}

    def test_once_she_has_signed_everything_is_open_to_her(
        self, tova: Client, second: SecondMark, grade: Grade
    ):
        sign_second(inspect_second(second))
        answer = tova.get(reverse("assessments:set", args=[second.practice_set.uid]))
        assert answer.status_code == 200 and SECRET in told(answer)
        compared = told(tova.get(page("second-mark", second)))
        assert SECRET in compared and "Tova Lind, blind" in compared


class TestTheBench:
    def test_findings_and_draft_travel_as_at_any_bench(self, tova: Client, second: SecondMark):
        uid = str(uuid4())
        event = {"uid": uid, "kind": "position", "index": 0, "finding": "faulty", "faults": ["STK"]}
        url = reverse("api:second-mark-events", args=[second.uid])
        send = lambda: tova.post(url, json.dumps({"events": [event]}), content_type="application/json")  # noqa: E731
        first, again = send().json(), send().json()
        assert [first["results"][0]["status"], again["results"][0]["status"]] == ["applied", "repeated"]
        assert first["set"]["inspection"]["positions"][0]["faults"] == ["STK"]

        url = reverse("api:second-mark-draft", args=[second.uid])
        body = json.dumps({"data": {"note": "Twisted", "levels": {"product": 2}}})
        saved = tova.put(url, body, content_type="application/json").json()
        assert (saved["draft"]["data"]["note"], saved["draft"]["saved_by"]) == ("Twisted", "Tova Lind")
        bad = tova.put(url, json.dumps({"data": {"levels": {"product": 9}}}), content_type="application/json")
        assert bad.status_code == 422

    def test_the_page_follows_the_step(self, tova: Client, second: SecondMark):
        assert tova.get(page("second-inspect", second)).templates[0].name == "assessments/bench_inspect.html"
        assert tova.get(page("second-marks", second))["Location"] == page("second-inspect", second)
        inspect_second(second)
        assert tova.get(page("second-inspect", second))["Location"] == page("second-marks", second)
        assert tova.get(page("second-marks", second)).templates[0].name == "assessments/bench_marks.html"

    def test_signing_leads_to_both_results(self, tova: Client, second: SecondMark):
        inspect_second(second)
        form = {"uid": str(uuid4()), "level_product": "3", "note": "Bases differ", "left_count": "80"}
        answer = tova.post(page("second-marks", second), form, follow=True)
        assert answer.redirect_chain[-1][0] == page("second-mark", second)
        assert "Bases differ" in told(answer)
        assert SecondGrade.objects.get().signed_by.name == "Tova Lind"

    def test_what_is_refused_is_said_on_its_field_and_nothing_typed_is_lost(
        self, tova: Client, second: SecondMark
    ):
        inspect_second(second)
        form = {"uid": str(uuid4()), "level_isolation": "1", "note": "Keep this"}
        answer = tova.post(page("second-marks", second), form)
        assert answer.status_code == 422
        assert "reason_isolation" in answer.context["form"].errors and "Keep this" in told(answer)

    def test_her_second_mark_waits_on_today(self, tova: Client, second: SecondMark):
        text = told(tova.get(reverse("assessments:today")))
        assert "Second marks waiting for you" in text and page("second-mark", second) in text


class TestOthers:
    def test_a_colleague_is_asked_to_keep_quiet(self, second: SecondMark, cast: Cast, client_for: SignIn):
        text = told(client_for(cast.ines).get(page("second-mark", second)))
        assert "Waiting for Tova Lind" in text and page("second-waive", second) not in text

    def test_the_owner_waives_with_a_reason(self, second: SecondMark, cast: Cast, client_for: SignIn):
        owner = client_for(cast.owner)
        assert page("second-waive", second) in told(owner.get(page("second-mark", second)))
        assert owner.post(page("second-waive", second), {"reason": ""}).context["form"].errors
        owner.post(page("second-waive", second), {"reason": "Strip tore."})
        assert "Strip tore." in told(owner.get(page("second-mark", second)))
        again = owner.post(page("second-waive", second), {"reason": "Again."})
        assert again.context["form"].non_field_errors()

    def test_notes_are_kept_under_both_results(self, second: SecondMark, cast: Cast, client_for: SignIn):
        sign_second(inspect_second(second), at=LATER)
        ines = client_for(cast.ines)
        assert ines.post(page("second-mark", second), {"text": ""}).status_code == 422
        answer = ines.post(page("second-mark", second), {"text": "It was lint."}, follow=True)
        assert "It was lint." in told(answer)
