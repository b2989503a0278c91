from decimal import Decimal

import pytest
from django.urls import reverse

from courses.models import Programme, ProgrammeVersion
from courses.programme.content import Gate
from courses.services.programmes import copy_programme_version
from tests.factories.programmes import (
    make_enrolment,
    make_programme,
    make_programme_draft,
)
from tests.factories.rubrics import starter_rubric


def at(name, version):
    return reverse(f"courses:programme-{name}", args=[version.pk])


def typed(page, **changes):
    """Everything that the form on the page holds, as a browser sends it, with ``changes``."""
    form = page.context["form"]
    fields = [*form, *(field for row in form.units for field in row), *form.units.management_form]
    values = {field.html_name: field.value() for field in fields}
    values |= {name: "theory" for name, value in values.items() if name.endswith("-kind") and not value}
    ticked = {name: "on" if value is True else value for name, value in values.items()}
    sent = {name: value for name, value in ticked.items() if value not in (None, False)}
    return {name: value for name, value in (sent | changes).items() if value is not None}


def test_the_list_tells_state_hours_and_students(cast, client_for):
    first = make_programme(cast.owner, practical_hours=Decimal("7.5"))
    make_enrolment(cast.ada, cast.owner, first)
    copy_programme_version(version=first, actor=cast.owner, now=first.published_at)
    text = client_for(cast.ines).get(reverse("courses:programme-list")).content.decode()
    assert "Foundation course, version 1" in text and "7.5 h" in text
    assert '<span class="tag warn">draft</span>' in text
    assert "1 student is on no programme yet. The owner enrols them." in text
    assert reverse("courses:programme-new") not in text


def test_without_programmes_the_list_says_what_to_do(cast, client_for):
    page = client_for(cast.owner).get(reverse("courses:programme-list"))
    assert "No programme yet" in page.content.decode()
    assert reverse("courses:programme-new") in page.content.decode()


def test_a_programme_is_added_changed_published_copied_and_retired(cast, client_for):
    starter_rubric(cast.academy, cast.owner)
    client = client_for(cast.owner)
    client.post(reverse("courses:programme-new"), {"name": "Foundation"})
    draft = ProgrammeVersion.objects.get()
    sent = typed(
        client.get(at("edit", draft)),
        theory_hours="8",
        practical_hours="6.5",
        hours_source="The board's rule",
        hours_source_on="2026-03-01",
        scope="Singles on mannequin heads",
        gate_graded_sets="6",
        level_isolation="3",
    )
    answer = client.post(at("edit", draft), sent | {"publish": "1"})
    assert answer["Location"] == at("publish", draft)
    assert client.post(at("publish", draft))["Location"] == at("version", draft)
    draft.refresh_from_db()
    assert draft.published_by == cast.owner
    assert (draft.theory_hours, draft.practical_hours, draft.gate["graded_sets"]) == (8, Decimal("6.5"), 6)
    assert draft.certificate["min_levels"] == {"isolation": 3}
    assert draft.units.count() == 15
    client.post(at("copy", draft))
    newer = ProgrammeVersion.objects.get(number=2)
    client.post(at("discard", newer))
    client.post(at("retire", draft))
    assert Programme.objects.get().retired_at is not None
    assert ProgrammeVersion.objects.count() == 1


def test_a_draft_saved_untouched_stays_as_it_is(cast, client_for):
    starter_rubric(cast.academy, cast.owner)
    gate = Gate(theory_hours=Decimal("2.25"), mastery=False, consent=("grading_photo",))
    draft, client = make_programme_draft(cast.owner, gate=gate), client_for(cast.owner)
    before = ProgrammeVersion.objects.get().content
    assert client.post(at("edit", draft), typed(client.get(at("edit", draft)))).status_code == 302
    assert ProgrammeVersion.objects.get().content == before
    assert before.gate == gate


def test_units_are_renamed_removed_added_and_put_in_another_order(cast, client_for):
    draft, client = make_programme_draft(cast.owner), client_for(cast.owner)
    sent = typed(client.get(at("edit", draft))) | {
        "unit-0-title": "Hygiene",  # hygiene, renamed
        "unit-1-title": "",  # removal goes
        "unit-2-place": "1",  # infill first
        "unit-3-title": "Posture",  # a new one in an empty line
        "unit-3-kind": "theory",
        "unit-3-before_live": "on",
        "unit-0-place": "2",
    }
    client.post(at("edit", draft), sent)
    rows = [(unit.code, unit.title, unit.before_live) for unit in draft.units.all()]
    assert rows == [("infill", "Infill", False), ("hygiene", "Hygiene", True), ("unit-1", "Posture", True)]


def test_a_code_that_is_not_of_this_draft_makes_a_new_unit(cast, client_for):
    draft, client = make_programme_draft(cast.owner), client_for(cast.owner)
    sent = typed(client.get(at("edit", draft)))
    client.post(at("edit", draft), sent | {"unit-3-title": "Posture", "unit-3-code": "forged"})
    assert list(draft.units.values_list("code", flat=True)) == ["hygiene", "removal", "infill", "unit-1"]


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"theory_hours": "ten"}, "This is no number. Enter one in digits, such as 2.5."),
        ({"practical_hours": "-1"}, "This is too small. Enter 0 or more."),
        ({"hygiene_sets": ""}, "Fill this in."),
        ({"lapse_days": "0"}, "This is too small. Enter 1 or more."),
        ({"hours_source_on": "2999-01-01"}, "This day is still to come."),
        ({"unit-1-title": "Hygiene and disinfection"}, "Give each a title of its own, or remove one."),
        ({"unit-1-place": "soon"}, "This is no whole number."),
        ({"unit-TOTAL_FORMS": "61"}, "A programme has at most 60 units."),
        ({"unit-1-kind": "talk"}, "Choose from the list."),
    ],
)
def test_a_refusal_keeps_everything_typed_in_every_part(cast, client_for, wrong, sentence):
    draft, client = make_programme_draft(cast.owner), client_for(cast.owner)
    sent = typed(client.get(at("edit", draft))) | {
        "hours_source": "Read at the board",
        "scope": "A scope typed just now",
        "unit-2-title": "Infill and repair",
    }
    text = client.post(at("edit", draft), sent | wrong).content.decode()
    assert sentence in text
    for kept in ("Read at the board", "A scope typed just now", 'value="Infill and repair"'):
        assert kept in text
    assert draft.units.filter(title="Infill").exists()


def test_units_sent_without_their_number_change_nothing(cast, client_for):
    draft, client = make_programme_draft(cast.owner), client_for(cast.owner)
    sent = typed(client.get(at("edit", draft))) | {"unit-TOTAL_FORMS": "", "scope": "Typed just now"}
    text = client.post(at("edit", draft), sent).content.decode()
    assert "This page is out of date. Reload it, then enter it again." in text and "Typed just now" in text
    assert draft.units.count() == 3


def test_publishing_says_what_is_missing_and_publishes_nothing(cast, client_for):
    client = client_for(cast.owner)
    client.post(reverse("courses:programme-new"), {"name": "Foundation"})
    draft = ProgrammeVersion.objects.get()
    for page in (client.get(at("publish", draft)), client.post(at("publish", draft))):
        text = page.content.decode()
        assert "The theory hours are empty." in text
        assert f"{at('edit', draft)}#id_theory_hours" in text
    draft.refresh_from_db()
    assert not draft.is_published


def test_publishing_shows_what_changes_from_the_version_before(cast, client_for, now):
    first = make_programme(cast.owner)
    draft = copy_programme_version(version=first, actor=cast.owner, now=now)
    client = client_for(cast.owner)
    assert "Both versions ask for the same." in client.get(at("publish", draft)).content.decode()
    client.post(at("edit", draft), typed(client.get(at("edit", draft)), practical_hours="24"))
    page = client.get(at("publish", draft))
    told = [(each.subject, each.before, each.after) for each in page.context["differences"]]
    assert told == [("Practical hours", "20 h", "24 h")]
    assert "What changes from version 1" in page.content.decode()


def test_a_published_version_shows_its_rules_and_its_students(cast, client_for):
    version = make_programme(cast.owner, gate=Gate(graded_sets=6))
    make_enrolment(cast.ada, cast.owner, version)
    text = client_for(cast.ines).get(at("version", version)).content.decode()
    assert "Invented for a test, last checked on 5 January 2026" in text
    assert "at least 6" in text
    assert "Ada Marsh" in text and reverse("courses:enrolment", args=[cast.ada.pk]) in text
    assert reverse("courses:programme-copy", args=[version.pk]) not in text


def test_a_name_taken_is_said_beside_the_name(cast, client_for):
    version = make_programme(cast.owner, "Foundation")
    make_programme(cast.owner, "Volume")
    client = client_for(cast.owner)
    for url in (reverse("courses:programme-new"), at("name", version)):
        page = client.post(url, {"name": "VOLUME"})
        assert "There is already a programme called “VOLUME”." in page.content.decode()
        assert page.context["form"].errors.keys() == {"name"}
    assert client.post(at("name", version), {"name": "Basics"}).status_code == 302
    assert Programme.objects.filter(name="Basics").exists()


def test_a_second_copy_leads_to_the_draft_there_is(cast, client_for, now):
    version = make_programme(cast.owner)
    draft = copy_programme_version(version=version, actor=cast.owner, now=now)
    answer = client_for(cast.owner).post(at("copy", version), follow=True)
    assert answer.redirect_chain == [(at("edit", draft), 302)]
    assert "already has a draft" in answer.content.decode()


@pytest.mark.parametrize("name", ["edit", "publish", "discard"])
def test_what_is_published_or_retired_is_read_and_not_changed(cast, client_for, now, name):
    version, client = make_programme(cast.owner), client_for(cast.owner)
    draft = copy_programme_version(version=version, actor=cast.owner, now=now)
    client.post(at("retire", version))
    for each in (version, draft):
        assert client.post(at(name, each))["Location"] == at("version", each)
    draft.refresh_from_db()
    assert not draft.is_published
