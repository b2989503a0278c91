"""One whole story through the doors: invited, practised, inspected, marked, told what next, corrected."""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from io import BytesIO
from typing import Any
from uuid import uuid4

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from academy.models import Invitation, Membership
from assessments.models import PracticeSet
from tests.factories.academy import Cast
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric

PASSWORD = "seven herons on a cold pier"
NAME, ADDRESS = "Noor Vandeven", "noor@people.example"
CORRECTION = "One of the three came free at the second look."
# What is found, by position: three fans bonded to a neighbour; everything else is clean.
STUCK = (3, 11, 27)


@dataclass(slots=True)
class Clock:
    """The time that every door reads. The whole story takes less than an idle session lasts."""

    now: datetime

    def pass_minutes(self, minutes: int) -> None:
        self.now += timedelta(minutes=minutes)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock(timezone.now())
    monkeypatch.setattr("django.utils.timezone.now", lambda: clock.now)
    return clock


def test_from_the_invitation_to_the_corrected_mark_sheet(
    cast: Cast,
    clock: Clock,
    client_for: Callable[[Membership], Client],
    django_capture_on_commit_callbacks: Any,
):
    starter_rubric(cast.academy, cast.owner)
    brief, head = make_brief(cast.academy, cast.owner), make_head(cast.academy)
    educator = client_for(cast.ines)

    with django_capture_on_commit_callbacks(execute=True):
        invite(client_for(cast.owner), cast)
    student = accept()
    noor = Membership.objects.get(user__email=ADDRESS)
    assert (noor.academy, noor.cohort) == (cast.academy, cast.cohort)
    assert "stand" in student.get(reverse("academy:home"))["Location"]

    uid = open_set(educator, {"student": noor.pk, "brief": brief.brief_id, "head": head.pk})
    practise(educator, uid, clock)
    inspect(educator, uid, clock)
    with django_capture_on_commit_callbacks(execute=True):
        sign(educator, uid)
    assert_the_letter_tells_of_the_marks()
    assert_the_student_sees_what_is_weakest_and_what_to_do(student)

    correct(educator, uid)
    assert_both_revisions_can_be_read(uid)
    path = reverse("assessments:set-sheet", args=[uid])
    assert_the_sheet_tells_of_the_correction(student.get(path).content)
    assert [client_for(other).get(path).status_code for other in (cast.bea, cast.omar)] == [404, 404]


def assert_the_letter_tells_of_the_marks() -> None:
    letter = mail.outbox[-1]
    assert letter.to == [f"{NAME} <{ADDRESS}>"]
    assert "Well held; look from the side." in letter.body


def assert_the_student_sees_what_is_weakest_and_what_to_do(student: Client) -> None:
    """Three of 40 stuck is level 1 on the starter rubric, below the target; no skill is the weakest yet."""
    stand = student.get(reverse("assessments:stand"))
    lines = stand.context["stand"].lines
    assert "isolation" in {line.estimate.skill for line in lines if line.is_gate and line.is_below}
    shown = stand.content.decode()
    assert "No skill can be called the weakest" in shown
    names = [line.name for line in lines]
    assert shown.index(names[0]) < shown.index(names[-1])
    practice = student.get(reverse("assessments:next")).content.decode()
    assert "Hold and check" in practice
    assert "3 of 40" in practice


def assert_both_revisions_can_be_read(uid: str) -> None:
    practice_set = PracticeSet.objects.get(uid=uid)
    levels = practice_set.grades.filter(marks__criterion__code="isolation").order_by("revision")
    assert list(levels.values_list("revision", "marks__proposed", "marks__level")) == [(1, 1, 1), (2, 1, 2)]


def assert_the_sheet_tells_of_the_correction(pdf: bytes) -> None:
    words = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())
    assert NAME in words
    assert CORRECTION in words


def invite(owner: Client, cast: Cast) -> None:
    form = {"name": NAME, "email": ADDRESS, "role": "student", "cohort": cast.cohort.pk}
    answer = owner.post(reverse("academy:invite"), form)
    assert answer.status_code == 302, answer.context["form"].errors
    assert Invitation.objects.filter(email=ADDRESS).exists()


def accept() -> Client:
    """By the link in the letter, and no other way."""
    (letter,) = mail.outbox
    assert letter.to == [f"{NAME} <{ADDRESS}>"]
    (path,) = set(re.findall(r"https?://[^/\s]+(/invitation/\S+/)", str(letter.body)))
    client = Client()
    assert client.get(path).status_code == 200
    answer = client.post(path, {"name": NAME, "password": PASSWORD})
    assert answer.status_code == 302, answer.context["form"].errors
    return client


def open_set(educator: Client, chosen: dict[str, int]) -> str:
    page = educator.get(reverse("assessments:bench-new"))
    day = timezone.localdate() - timedelta(days=5)
    conditions = {"adhesive_lot": "K-2201", "adhesive_opened_on": day, "adhesive_days": 28}
    room = {"room_c": "21.0", "room_rh": 50}
    form = {**chosen, **conditions, **room, "uid": page.context["form"]["uid"].value()}
    answer = educator.post(reverse("assessments:bench-new"), form)
    assert answer.status_code == 302, answer.context["form"].errors
    uid = PracticeSet.objects.get().uid
    assert answer["Location"] == reverse("assessments:bench", args=[uid])
    return str(uid)


def practise(educator: Client, uid: str, clock: Clock) -> None:
    """150 minutes of work with a pause of 10 in the middle."""
    assert send(educator, uid, kind="start")["state"] == "working"
    clock.pass_minutes(70)
    assert send(educator, uid, kind="pause", reason="Hand stretch")["state"] == "paused"
    clock.pass_minutes(10)
    send(educator, uid, kind="resume")
    clock.pass_minutes(80)
    done = send(educator, uid, kind="finish")
    assert done["state"] == "finished"
    assert (done["clock"]["worked_s"], done["clock"]["paused_s"]) == (150 * 60, 10 * 60)


def inspect(educator: Client, uid: str, clock: Clock) -> None:
    positions = document(educator, uid)["inspection"]["positions"]
    assert len(positions) == 40  # five in each of four zones of two eyes
    clock.pass_minutes(15)
    send_all(educator, uid, [seen(position) for position in positions])
    assert send(educator, uid, kind="inspect")["state"] == "inspected"


def seen(position: dict[str, Any]) -> dict[str, object]:
    stuck = position["index"] in STUCK
    return {
        "kind": "position",
        "index": position["index"],
        "finding": "faulty" if stuck else "clean",
        "faults": ["STK"] if stuck else [],
        "gap_mm": 0.7 if position["wants_gap"] else None,
        "direction_deg": 4 if position["wants_direction"] else None,
        **({"found_length_mm": position["length_mm"]} if position.get("wants_length") else {}),
    }


def sign(educator: Client, uid: str) -> None:
    path = reverse("assessments:bench-marks", args=[uid])
    page = educator.get(path)
    assert page.status_code == 200
    form = {**marks_of(page), "drill": "hold-and-check", "drill_count": 20}
    answer = educator.post(path, form)
    assert answer.status_code == 302, answer.context["form"].errors


def correct(educator: Client, uid: str) -> None:
    path = reverse("assessments:set-correct", args=[uid])
    page = educator.get(path)
    form = {
        **marks_of(page),
        "drill": "hold-and-check",
        "drill_count": 20,
        "revision": page.context["form"]["revision"].value(),
        "level_isolation": 2,
        "reason_isolation": "Two hold, one does not",
        "reason": CORRECTION,
    }
    answer = educator.post(path, form)
    assert answer.status_code == 302, answer.context["form"].errors


def marks_of(page: Any) -> dict[str, object]:
    """What a person enters on the marks page; the rest stays as proposed."""
    return {
        "uid": page.context["form"]["uid"].value(),
        "lines_seen": "on",
        "lines_done": [line["code"] for line in page.context["lines"]],
        "left_count": 80,
        "right_count": 80,
        "level_product": 3,
        "level_layers": 3,
        "note": "Well held; look from the side.",
    }


def document(educator: Client, uid: str) -> dict[str, Any]:
    found: dict[str, Any] = educator.get(reverse("api:set", args=[uid])).json()
    return found


def send(educator: Client, uid: str, **event: object) -> dict[str, Any]:
    return send_all(educator, uid, [event])


def send_all(educator: Client, uid: str, events: list[dict[str, object]]) -> dict[str, Any]:
    body = json.dumps({"events": [{"uid": str(uuid4()), **event} for event in events]})
    answer = educator.post(
        reverse("api:set-events", args=[uid]), body, content_type="application/json"
    ).json()
    assert {result["status"] for result in answer["results"]} == {"applied"}, answer["results"]
    found: dict[str, Any] = answer["set"]
    return found
