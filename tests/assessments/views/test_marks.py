"""Signing and correcting on the page: what is refused is said on its field, and nothing typed is lost."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from academy.models import Membership, User
from assessments.models import Grade, PracticeSet
from assessments.scoring.entry import MarkEntry
from assessments.services.marking import Correction, save_draft
from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_entry
from tests.factories.bench import faulty, finished_set, graded_set, inspected_set

HOUR = timedelta(hours=1)
SignIn = Callable[[Membership], Client]


@pytest.fixture
def began() -> datetime:
    return timezone.now() - 6 * HOUR


@pytest.fixture
def ines(bench: Bench, client_for: SignIn) -> Client:
    return client_for(bench.educator)


@pytest.fixture
def made(bench: Bench, began) -> PracticeSet:
    """Inspected, with two fans stuck: isolation is proposed at level 2."""
    return inspected_set(bench, at=began, found={0: faulty("STK"), 1: faulty("STK")})


@pytest.fixture
def filled(made: PracticeSet) -> dict[str, Any]:
    """The form as it is sent when everything went well."""
    return {
        "uid": str(uuid4()),
        "lines_done": list(made.rubric.hygiene_lines.values_list("code", flat=True)),
        "lines_seen": "on",
        "left_count": "80",
        "right_count": "79",
        "level_product": "3",
        "level_layers": "3",
        "note": "Combs freely.",
        "drill": "hold-and-check",
        "drill_count": "20",
    }


def page(name: str, made: PracticeSet) -> str:
    return reverse(f"assessments:{name}", args=[made.uid])


def sign(client: Client, made: PracticeSet, data: dict[str, Any], **changes: Any):
    return client.post(page("bench-marks", made), {**data, **changes})


def correct(client: Client, made: PracticeSet, data: dict[str, Any], **changes: Any):
    given = {"revision": "1", "reason": "The lint was no adhesive.", **changes}
    return client.post(page("set-correct", made), {**data, **given})


def test_the_hygiene_lines_stand_with_the_gates_before_the_other_criteria(ines: Client, made: PracticeSet):
    text = ines.get(page("bench-marks", made)).content.decode()
    places = [text.index(f"<h2>{name}</h2>") for name in ("Gates", "Hygiene lines", "Other criteria")]
    assert places == sorted(places)


class TestSigning:
    def test_the_page_shows_every_proposal_with_its_arithmetic_gates_first(
        self, ines: Client, made: PracticeSet
    ):
        answer = ines.get(page("bench-marks", made))
        assert answer.status_code == 200
        assert "2 stuck of 40: 5 %" in answer.content.decode()
        gates = [row["is_gate"] for row in answer.context["rows"]]
        assert gates == sorted(gates, reverse=True)

    def test_signing_leads_to_the_record_of_the_set(self, ines: Client, made: PracticeSet, filled):
        answer = sign(ines, made, filled)
        grade = Grade.objects.get()
        assert (answer.status_code, answer["Location"]) == (302, page("set", made))
        assert (grade.note, grade.drill_count, grade.entry["right_count"]) == ("Combs freely.", 20, 79)
        assert grade.entry["lines_missed"] == []

    def test_the_form_sent_twice_is_signed_once_and_leads_to_the_same_record(
        self, ines: Client, made, filled
    ):
        first, second = sign(ines, made, filled), sign(ines, made, filled)
        assert first["Location"] == second["Location"]
        assert Grade.objects.count() == 1

    def test_a_line_left_unticked_is_a_line_missed(self, ines: Client, made: PracticeSet, filled):
        lines = [code for code in filled["lines_done"] if code != "hands"]
        sign(ines, made, filled, lines_done=lines)
        assert Grade.objects.get().entry["lines_missed"] == ["hands"]

    def test_lines_not_looked_at_leave_the_gate_without_a_level(
        self, ines: Client, made: PracticeSet, filled
    ):
        without = {name: value for name, value in filled.items() if not name.startswith("lines_")}
        answer = sign(ines, made, without)
        assert answer.status_code == 422
        (words,) = answer.context["form"].errors["level_hygiene"]
        assert words.startswith("Hygiene and set-up is a gate and has no level yet")
        page = answer.content.decode()
        assert f">{words}</a>" in page, "the summary says whose line it is once"
        assert "Time waits for hygiene and set-up: not marked yet." in page and "Time counts." not in page
        assert not Grade.objects.exists()

    def test_looked_at_and_none_met_is_level_nought_and_not_nothing(self, ines: Client, made, filled):
        without = {name: value for name, value in filled.items() if name != "lines_done"}
        assert sign(ines, made, without).status_code == 302
        assert Grade.objects.get().marks.get(criterion__code="hygiene").level == 0

    def test_an_override_asks_for_its_reason_on_its_field(self, ines: Client, made: PracticeSet, filled):
        answer = sign(ines, made, filled, level_isolation="4")
        assert list(answer.context["form"].errors) == ["reason_isolation"]
        assert "differs from the proposed 2. Give the reason" in answer.content.decode()
        again = sign(ines, made, filled, level_isolation="4", reason_isolation="lint, not adhesive")
        assert again.status_code == 302
        mark = Grade.objects.get().marks.get(criterion__code="isolation")
        assert (mark.level, mark.proposed, mark.override_reason) == (4, 2, "lint, not adhesive")

    @pytest.mark.parametrize(
        ("changes", "field", "words"),
        [
            ({"note": "x" * 10_000}, "note", "The note has 10000 characters. Shorten it to 2000."),
            ({"left_count": "-1"}, "left_count", "-1 cannot be counted. Enter 0 or more."),
            ({"left_count": "many"}, "left_count", "whole number"),
            ({"right_count": "401"}, "right_count", "400"),
            ({"level_wrap": "7"}, "level_wrap", "not on the list"),
            ({"drill": "juggling"}, "drill", "not on the list"),
            ({"drill_count": "0"}, "drill_count", "1"),
            ({"lines_done": ["humming"]}, "lines_done", "not on the list"),
            ({"reason_wrap": "x" * 501}, "reason_wrap", "500"),
            ({"note": "nul \0 byte"}, "note", "invisible character"),
        ],
    )
    def test_what_cannot_be_is_said_on_its_field_and_nothing_typed_is_lost(
        self, ines: Client, made: PracticeSet, filled, changes, field, words
    ):
        sent = {**filled, **changes}
        answer = ines.post(page("bench-marks", made), sent)
        form = answer.context["form"]
        assert (answer.status_code, list(form.errors)) == (422, [field])
        assert words in form.errors[field][0]
        kept = {name: form[name].value() for name in sent if name != "lines_seen"}
        assert kept == {name: sent[name] for name in kept}
        assert not Grade.objects.exists()

    def test_a_long_note_is_still_there_to_be_shortened(self, ines: Client, made: PracticeSet, filled):
        note = "<b>Long</b> & " + "x" * 10_000
        body = sign(ines, made, filled, note=note).content.decode()
        assert "&lt;b&gt;Long&lt;/b&gt; &amp; " + "x" * 10_000 in body
        assert "<b>Long" not in body

    def test_a_line_break_counts_as_the_one_character_that_was_typed(self, ines: Client, made, filled):
        note = "\r\n".join(
            "x" * 9 for _ in range(200)
        )  # 1,800 letters and 199 breaks: 1,999 characters typed
        assert sign(ines, made, filled, note=note).status_code == 302
        assert Grade.objects.get().note == note.replace("\r\n", "\n")

    def test_after_a_refusal_the_verdict_is_that_of_what_was_typed(self, ines: Client, made, filled):
        answer = sign(ines, made, filled, lines_done=[], level_isolation="4")
        gates = {gate["code"]: gate["level"] for gate in answer.context["verdict"]["gates"]}
        assert (gates["hygiene"], gates["isolation"]) == (0, 4)

    def test_the_draft_fills_the_form(self, bench: Bench, ines: Client, made: PracticeSet):
        entry = make_entry(levels={"wrap": 1}, note="So far.")
        save_draft(actor=bench.educator, uid=made.uid, entry=entry, base=None, now=timezone.now())
        form = ines.get(page("bench-marks", made)).context["form"]
        values = [form[name].value() for name in ("note", "level_wrap", "reason_wrap", "left_count")]
        assert values == ["So far.", "1", "seen at the bench", 80]

    def test_the_second_educator_is_told_who_has_signed_and_keeps_what_she_typed(
        self, cast: Cast, ines: Client, client_for, made: PracticeSet, filled
    ):
        sign(ines, made, filled)
        answer = sign(client_for(cast.second), made, filled, uid=str(uuid4()), note="Mine.")
        assert answer.status_code == 422
        assert (
            "Ines Carvalho has signed the marks of this set" in answer.context["form"].non_field_errors()[0]
        )
        assert answer.context["form"]["note"].value() == "Mine."
        assert Grade.objects.count() == 1

    def test_a_set_that_is_not_inspected_is_sent_back_to_the_bench(
        self, bench: Bench, ines: Client, began, cast
    ):
        made = finished_set(bench, at=began)
        for answer in (ines.get(page("bench-marks", made)), ines.post(page("bench-marks", made), {})):
            assert answer["Location"] == page("bench", made)

    def test_a_graded_set_is_read_on_its_own_page(self, ines: Client, made: PracticeSet, filled):
        sign(ines, made, filled)
        assert ines.get(page("bench-marks", made))["Location"] == page("set", made)


class TestCorrecting:
    @pytest.fixture
    def signed(self, ines: Client, made: PracticeSet, filled) -> PracticeSet:
        sign(ines, made, filled)
        return made

    def test_the_form_begins_with_what_was_signed(self, ines: Client, signed: PracticeSet):
        answer = ines.get(page("set-correct", signed))
        form = answer.context["form"]
        assert (form["note"].value(), form["right_count"].value(), form["revision"].value()) == (
            "Combs freely.",
            79,
            1,
        )
        assert (answer.status_code, answer.context["correcting"], answer.context["grade"].revision) == (
            200,
            True,
            1,
        )

    def test_a_draft_of_it_fills_the_form_until_it_is_signed(
        self, bench: Bench, ines: Client, signed: PracticeSet, filled
    ):
        save_draft(
            actor=bench.educator,
            uid=signed.uid,
            entry=MarkEntry(note="Combs freely, nearly.", left_count=78),
            base=None,
            now=timezone.now(),
            correction=Correction(1, "The lint was"),
        )
        form = ines.get(page("set-correct", signed)).context["form"]
        assert form["note"].value() == "Combs freely, nearly." and form["left_count"].value() == 78
        assert (form["reason"].value(), form["revision"].value()) == ("The lint was", 1)
        correct(ines, signed, filled, level_wrap="1", reason_wrap="bases lift")
        form = ines.get(page("set-correct", signed)).context["form"]
        assert form["revision"].value() == 2 and not form["reason"].value()

    def test_a_correction_is_a_second_revision(self, ines: Client, signed: PracticeSet, filled):
        answer = correct(ines, signed, filled, level_wrap="1", reason_wrap="bases lift")
        assert answer["Location"] == page("set", signed)
        newest = Grade.objects.first()
        assert newest is not None
        assert (newest.revision, newest.reason) == (2, "The lint was no adhesive.")

    def test_without_a_reason_it_is_refused_and_kept(self, ines: Client, signed: PracticeSet, filled):
        answer = correct(ines, signed, filled, reason="  ", note="Better words.")
        form = answer.context["form"]
        assert form.errors["reason"] == ["Say why the signed marks are corrected."]
        assert (answer.status_code, form["note"].value()) == (422, "Better words.")
        assert Grade.objects.count() == 1

    @pytest.mark.parametrize("revision", ["", "0", "7", "one"])
    def test_a_revision_that_is_not_the_newest_is_refused(self, ines: Client, signed, filled, revision):
        assert correct(ines, signed, filled, revision=revision).status_code == 422
        assert Grade.objects.count() == 1

    def test_a_stale_tab_is_told_who_was_first(self, cast: Cast, ines: Client, client_for, signed, filled):
        correct(client_for(cast.second), signed, filled)
        answer = correct(ines, signed, filled, note="Mine.")
        assert answer.status_code == 422
        assert "Tova Lind has signed" in answer.context["form"].non_field_errors()[0]

    def test_the_form_sent_twice_makes_one_revision(self, ines: Client, signed: PracticeSet, filled):
        first, second = correct(ines, signed, filled), correct(ines, signed, filled)
        assert first["Location"] == second["Location"]
        assert Grade.objects.count() == 2

    def test_a_set_without_signed_marks_has_nothing_to_correct(self, ines: Client, made: PracticeSet, filled):
        assert correct(ines, made, filled).status_code == 404


class TestWhoMayMark:
    @pytest.mark.parametrize("name", ["bench-marks", "set-correct"])
    def test_students_and_neighbours_are_kept_out(self, bench: Bench, cast: Cast, client_for, began, name):
        made = graded_set(bench, at=began).practice_set
        for method in ("get", "post"):
            assert getattr(client_for(bench.student), method)(page(name, made)).status_code == 403
            assert getattr(client_for(cast.omar), method)(page(name, made)).status_code == 404
            assert "login" in getattr(Client(), method)(page(name, made))["Location"]
        assert Grade.objects.count() == 1

    def test_the_owner_may_mark(self, cast: Cast, client_for, made: PracticeSet, filled):
        assert sign(client_for(cast.owner), made, filled).status_code == 302

    def test_names_and_notes_are_shown_as_text(self, bench: Bench, ines: Client, made: PracticeSet):
        User.objects.filter(pk=bench.student.user_id).update(name="<script>alert(1)</script>")
        entry = make_entry(note="</textarea><script>alert(2)</script>")
        save_draft(actor=bench.educator, uid=made.uid, entry=entry, base=None, now=timezone.now())
        body = ines.get(page("bench-marks", made)).content.decode()
        assert "<script>alert" not in body
        assert "&lt;/textarea&gt;&lt;script&gt;alert(2)" in body
