"""The designer as a plain form: what a browser without scripts sends, and the fragment scripts ask for."""

import re
from dataclasses import replace

import pytest
from django.db import connection
from django.http import QueryDict
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses.forms.brief_editor import PLAIN, RELAID, BriefForm
from courses.mapping.lash_map import Direction, separated
from courses.models import BriefVersion, SetBrief
from courses.selectors.briefs import newest_version
from courses.services.briefs import content_of, revise_brief
from tests.courses.mapping.maps import texture
from tests.factories.courses import brief_content, make_brief, plain_map

INNER = "cells/both/inner/top"
NEW = "courses:brief-new"


def typed(content=None, base=None, **changes):
    """What a browser sends for this content; ``changes`` by name of an input, None for one left out."""
    form = BriefForm.of(None, content or brief_content(), base)
    sent = QueryDict(mutable=True)
    for name in form.fields:
        value = form[name].value()
        if isinstance(value, list):
            sent.setlist(name, value)
        elif value is not None and value is not False and value != "":
            sent[name] = "on" if value is True else str(value)
    for key, cell in form.cells.items():
        sent.update({"/".join(("cells", *key, rest)): value for rest, value in cell.items()})
    sent["zones"] = form.zone_codes
    sent.update({f"silenced/{key}": note for key, note in form.silenced.items()})
    for name, value in changes.items():
        sent.pop(name, None)
        if value is not None:
            sent.setlist(name, value if isinstance(value, list) else [str(value)])
    return sent


def post(client, name, sent, *args):
    return client.post(
        reverse(name, args=args), sent.urlencode(), content_type="application/x-www-form-urlencoded"
    )


def full_content():
    lash_map = texture(
        (8, 70),
        (12, 30),
        directions=(Direction(0, -20), Direction(100, 30)),
        placement=("peaks first", "then fillers"),
        eye_shape="almond",
        face_note="high brow",
        natural_length_mm=10,
    )
    return brief_content(
        lash_map=lash_map, difficulty="beginner", silenced={"corner_long x": "wanted"}, notes="n"
    )


@pytest.mark.parametrize(
    "content",
    [brief_content(), full_content(), replace(brief_content(), lash_map=separated(plain_map()))],
    ids=["plain", "textured", "separate"],
)
def test_the_form_reads_back_every_part_of_a_brief(content):
    form = BriefForm(typed(content))
    assert form.is_valid(), form.errors
    assert form.content() == content


def test_a_brief_is_made_and_shown(cast, client_for):
    client = client_for(cast.ines)
    response = post(client, NEW, typed())
    made = BriefVersion.objects.get()
    assert response.url == reverse("courses:brief", args=[made.brief_id])
    assert content_of(newest_version(made.brief)) == brief_content()
    assert 'class="eye"' in client.get(response.url).content.decode()


def test_a_new_brief_starts_from_a_map_that_can_be_saved(cast, client_for):
    page = client_for(cast.ines).get(reverse(NEW))
    text = page.content.decode()
    assert page.context["draft"] is not None and text.count("data-panel") >= 8
    sent = typed(replace(brief_content(), lash_map=BriefForm().start))
    assert post(client_for(cast.ines), NEW, sent).status_code == 302


def test_a_revision_leaves_the_old_version_readable(cast, client_for):
    brief = make_brief(cast.academy, cast.ines).brief
    client = client_for(cast.second)
    page = client.get(reverse("courses:brief-edit", args=[brief.pk])).content.decode()
    assert "Saving makes version 2. Sets already opened keep version 1" in page
    post(client, "courses:brief-edit", typed(base=1, **{f"{INNER}/filaments": 4}), brief.pk)
    newest = newest_version(brief)
    assert (newest.number, newest.lash_map.cells["both", "inner", "top"].fan.filaments) == (2, 4)
    assert (
        "Version 2 is newer"
        in client.get(f"{reverse('courses:brief', args=[brief.pk])}?version=1").content.decode()
    )


def test_two_people_who_revise_at_once_are_told_once(cast, client_for):
    version = make_brief(cast.academy, cast.ines)
    brief, now = version.brief, version.created_at
    revise_brief(brief=brief, content=brief_content(filaments=4), actor=cast.second, now=now)
    client, sent = client_for(cast.ines), typed(base=1, style="mega")
    text = post(client, "courses:brief-edit", sent, brief.pk).content.decode()
    assert "Somebody made version 2 meanwhile." in text
    assert re.search(r'name="base" value="2"', text) and 'value="mega"' in text
    sent["base"] = "2"
    assert post(client, "courses:brief-edit", sent, brief.pk).status_code == 302
    assert newest_version(brief).style == "mega"


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({f"{INNER}/lengths/0/share_percent": 95}, "Inner, top layer: The shares add up to 95 %, not 100 %."),
        ({f"{INNER}/lengths/0/length_mm": 3}, "Inner, top layer: 3 mm is out of range. Give 5 to 18 mm."),
        ({f"{INNER}/lengths/0/length_mm": 40}, "Inner, top layer: 40 mm is out of range."),
        (
            {f"{INNER}/lengths/0/length_mm": "nine"},
            "Inner, top layer: Give every length in whole millimetres.",
        ),
        ({f"{INNER}/lengths/0/share_percent": ""}, "Inner, top layer: Give every length its share"),
        (
            {f"{INNER}/lengths/0/length_mm": "", f"{INNER}/lengths/0/share_percent": ""},
            "Give 1 to 6 lengths.",
        ),
        ({f"{INNER}/diameter_hundredths": 50}, "0.50 mm is not a diameter of the trade list."),
        ({f"{INNER}/opening_deg/0": ""}, "Give the opening as two angles in whole degrees"),
        ({f"{INNER}/opening_deg/0": 70}, "The opening is from 70° to 50°. Give the smaller first"),
        ({f"{INNER}/filaments": 31}, "31 filaments a fan is out of range."),
        ({"zone_count": 0}, "What was chosen is not on the list."),
        ({"layers": None}, "Choose one or more."),
        ({"along_0": 50}, "Fill in both the place and the degrees, or empty both."),
        ({"minutes_1": 310}, "From set 4 the target is 310 min, not below the 300 min before."),
        ({"minutes_1": ""}, "Fill in both the set number and the minutes, or empty both."),
        ({"from_0": 2}, "Give a target time from the 1st set on."),
        ({"coverage_percent": 5}, "This is too small. Enter 10 or more."),
    ],
)
def test_what_is_wrong_gets_a_sentence_and_nothing_typed_is_lost(cast, client_for, changes, sentence):
    sent = typed(notes="mind the corner", **changes)
    page = post(client_for(cast.ines), NEW, sent)
    text = page.content.decode()
    assert page.status_code == 200
    assert sentence in text
    assert "mind the corner" in text
    for name, value in changes.items():
        if name.startswith("cells/") and value and "diameter" not in name:
            assert re.search(rf'name="{name}" value="{value}"', text)
    assert not SetBrief.objects.exists()


def test_what_is_wrong_with_a_cell_stands_in_its_cell(cast, client_for):
    text = post(client_for(cast.ines), NEW, typed(**{f"{INNER}/filaments": 31})).content.decode()
    cell = text[text.index('id="cell-both-inner-top"') :]
    assert "31 filaments" in cell[: cell.index("</fieldset>")]
    assert "1 cell of the lash map needs correcting." in text


def test_an_opening_typed_before_the_fan_was_closed_is_kept_but_not_saved(cast, client_for):
    sent = typed(**{f"{INNER}/fan_shape": "closed"})
    assert post(client_for(cast.ines), NEW, sent).status_code == 302
    fan = BriefVersion.objects.get().lash_map.cells["both", "inner", "top"].fan
    assert (fan.shape, fan.opening_min_deg) == ("closed", None)


@pytest.mark.parametrize(
    ("changes", "cells"),
    [({"zone_count": 6}, 12), ({"layers": ["top", "middle", "bottom"]}, 12), ({"eyes": "separate"}, 16)],
)
def test_a_map_laid_out_anew_is_looked_at_before_it_is_saved(cast, client_for, changes, cells):
    client = client_for(cast.ines)
    page = post(client, NEW, typed(**changes))
    assert RELAID in page.content.decode() and not SetBrief.objects.exists()
    assert len(page.context["form"].cells) == cells
    again = typed(replace(brief_content(), lash_map=page.context["form"].lash_map))
    assert post(client, NEW, again).status_code == 302


def test_without_scripts_a_button_lays_the_cells_out(cast, client_for):
    page = post(client_for(cast.ines), NEW, typed(zone_count=3, lay_out=1))
    assert not page.context["form"].errors and not SetBrief.objects.exists()
    assert len(page.context["form"].cells) == 6


def test_a_taken_name_is_said_at_the_name(cast, client_for):
    make_brief(cast.academy, cast.ines)
    page = post(client_for(cast.ines), NEW, typed())
    assert page.context["form"].errors["name"] == [
        "There is already a brief named Soft volume. Choose another name."
    ]


def test_the_draft_draws_checks_and_counts_without_saving(cast, client_for):
    sent = typed(**{f"{INNER}/lengths/0/length_mm": 15})
    text = post(client_for(cast.ines), "courses:brief-draft", sent).content.decode()
    assert "<html" not in text and "data-map-editor" in text
    assert "15 mm in the inner zone, longer than" in text  # corners carry the shortest: common practice
    assert ">15</text>" in text  # drawn
    assert "Fans, 80 an eye" in text  # 80 lashes, all covered
    assert not SetBrief.objects.exists()


def test_a_draft_nobody_could_work_from_says_why_and_draws_nothing(cast, client_for):
    text = post(
        client_for(cast.ines), "courses:brief-draft", typed(**{f"{INNER}/filaments": ""})
    ).content.decode()
    assert "Inner, top layer: Give the filaments of a fan, a whole number." in text
    assert 'class="eye"' not in text and "Nothing to say" not in text


def test_a_check_is_silenced_by_a_note_and_kept_with_it(cast, client_for):
    client = client_for(cast.ines)
    key = "corner_long both/inner/top"
    sent = typed(**{f"{INNER}/lengths/0/length_mm": 11, f"silenced/{key}": "wanted by the eye shape"})
    text = post(client, "courses:brief-draft", sent).content.decode()
    assert "is-silenced" in text and 'value="wanted by the eye shape"' in text
    post(client, NEW, sent)
    assert BriefVersion.objects.get().silenced == {key: "wanted by the eye shape"}


def test_the_draft_costs_the_same_for_any_map(cast, client_for):
    client = client_for(cast.ines)

    def queries(content) -> int:
        with CaptureQueriesContext(connection) as seen:
            post(client, "courses:brief-draft", typed(content))
        return len(seen)

    queries(brief_content())
    separate = replace(brief_content(), lash_map=separated(plain_map()))
    assert queries(separate) == queries(brief_content())


def test_strangers_and_students_get_no_draft(cast, client_for):
    assert post(client_for(cast.ada), "courses:brief-draft", typed()).status_code == 403
    assert client_for(cast.ines).get(reverse("courses:brief-draft")).status_code == 405


def test_nobody_changes_a_foreign_brief_by_sending_the_form(cast, client_for):
    brief = make_brief(cast.academy, cast.ines).brief
    for member, status in ((cast.omar, 404), (cast.ada, 403)):
        assert post(client_for(member), "courses:brief-edit", typed(base=1), brief.pk).status_code == status
        assert client_for(member).get(reverse("courses:brief-edit", args=[brief.pk])).status_code == status
    assert newest_version(brief).number == 1


def test_what_comes_from_a_browser_is_written_as_text(cast, client_for):
    sent = typed(name='"><script>x</script>', **{f"{INNER}/lengths/0/length_mm": '"><b>'})
    text = post(client_for(cast.ines), NEW, sent).content.decode()
    assert "<script>x" not in text and "<b>" not in text


def test_fields_of_the_content_are_all_on_the_form():
    assert set(PLAIN) <= set(BriefForm.base_fields)
