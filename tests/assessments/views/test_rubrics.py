import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assessments.forms.rubrics import CriterionForm, HygieneLinesForm
from assessments.models import RubricVersion
from assessments.selectors.rubrics import criterion as one_criterion
from assessments.selectors.rubrics import rubric_for
from assessments.services.rubrics import publish_rubric_version
from courses.models import SetBrief
from courses.selectors.catalogue import faults
from tests.factories.courses import make_brief
from tests.factories.rubrics import rubric_draft, starter_rubric

OWNER_ONLY = ("rubric-edit", "rubric-publish", "rubric-discard")


def url(name, *args):
    return reverse(f"assessments:{name}", args=args)


def sent(form):
    """What a browser sends when nothing was changed on the page."""
    values = {field.html_name: field.value() for field in form}
    return {name: value for name, value in values.items() if value is not None and value is not False}


def criterion_sent(cast, criterion, **changes):
    return sent(CriterionForm(one_criterion(cast.academy, criterion.pk), list(faults()), None)) | changes


@pytest.fixture
def starter(cast):
    return starter_rubric(cast.academy, cast.owner)


@pytest.fixture
def draft(cast):
    return rubric_draft(cast.academy, cast.owner)


def test_every_member_reads_a_published_version(cast, starter, client_for):
    for member in (cast.owner, cast.ines, cast.ada):
        text = client_for(member).get(url("rubric-version", starter.pk)).content.decode()
        assert "7 or more of 40 stuck" in text
        assert "Lower lashes covered; pad lies flat and stays off the eyeball" in text
        assert ("Copy to a draft" in text) == (member == cast.owner)


def test_educators_may_read_a_draft_and_students_do_not_know_of_it(cast, draft, client_for):
    assert client_for(cast.ines).get(url("rubric-version", draft.pk)).status_code == 200
    assert client_for(cast.ada).get(url("rubric-version", draft.pk)).status_code == 404
    assert len(client_for(cast.ines).get(url("rubric-list")).context["versions"]) == 2
    assert len(client_for(cast.ada).get(url("rubric-list")).context["versions"]) == 1


def test_the_list_costs_the_same_with_1_and_6_versions(cast, starter, client_for, now):
    client = client_for(cast.ines)

    def queries():
        with CaptureQueriesContext(connection) as seen:
            client.get(url("rubric-list"))
        return len(seen)

    queries()
    with_one = queries()
    for _ in range(5):
        publish_rubric_version(version=rubric_draft(cast.academy, cast.owner), actor=cast.owner, now=now)
    assert queries() == with_one


def test_a_version_page_costs_the_same_with_one_criterion_and_with_all(cast, starter, draft, client_for):
    client = client_for(cast.ines)

    def queries(version):
        with CaptureQueriesContext(connection) as seen:
            client.get(url("rubric-version", version.pk))
        return len(seen)

    draft.criteria.exclude(code="isolation").delete()
    queries(starter)
    assert queries(starter) == queries(draft)


def test_without_rubrics_the_list_says_what_to_do(cast, client_for):
    assert "No rubric yet" in client_for(cast.owner).get(url("rubric-list")).content.decode()


def test_the_owner_copies_changes_and_publishes(cast, starter, client_for):
    client = client_for(cast.owner)
    response = client.post(url("rubric-copy", starter.pk))
    draft = RubricVersion.objects.get(published_at=None)
    assert response.url == url("rubric-edit", draft.pk)
    criterion = draft.criteria.get(code="isolation")
    changes = {
        "at_most_3": "5",
        "weight": "3",
        "level_1": "Three to five of 40 stuck",
        "level_0": "Six or more",
    }
    response = client.post(url("rubric-criterion", criterion.pk), criterion_sent(cast, criterion, **changes))
    assert response.url == url("rubric-edit", draft.pk)
    criterion.refresh_from_db()
    assert criterion.rule == {
        "faults": ["STK", "BBY", "DBL", "LYR"],
        "floor_faults": [],
        "per": 40,
        "at_most": [0, 1, 2, 5],
        "noun": "stuck",
    }
    assert client.get(url("rubric-publish", draft.pk)).status_code == 200
    client.post(url("rubric-publish", draft.pk))
    draft.refresh_from_db()
    assert draft.published_by == cast.owner


@pytest.mark.parametrize(
    "code",
    [
        "isolation",
        "placement",
        "hygiene",
        "product",
        "direction",
        "coverage",
        "symmetry",
        "layers",
        "time",
        "mapping",
    ],
)
def test_saving_a_criterion_unchanged_keeps_its_rule(cast, draft, client_for, code):
    criterion = draft.criteria.get(code=code)
    page = client_for(cast.owner).get(url("rubric-criterion", criterion.pk))
    assert page.status_code == 200
    response = client_for(cast.owner).post(
        url("rubric-criterion", criterion.pk), criterion_sent(cast, criterion)
    )
    assert response.status_code == 302
    before = criterion.rule
    criterion.refresh_from_db()
    assert {key: value for key, value in criterion.rule.items() if value} == {
        key: value for key, value in before.items() if value
    }


def test_a_judged_criterion_takes_limits_by_fault(cast, draft, client_for):
    criterion = draft.criteria.get(code="product")
    changes = {"cap_HVY": "0", "cap_CRL": ""}
    client_for(cast.owner).post(
        url("rubric-criterion", criterion.pk), criterion_sent(cast, criterion, **changes)
    )
    criterion.refresh_from_db()
    assert criterion.rule["caps"] == {"HVY": 0}


@pytest.mark.parametrize(
    ("code", "changes", "field", "start"),
    [
        ("isolation", {"at_most_2": "0"}, "at_most_2", "0 is less than the 1 of the level above."),
        ("isolation", {"at_most_3": "41"}, "at_most_0", "Counted on inspected fans"),
        ("isolation", {"faults": []}, "faults", "Choose one or more."),
        ("isolation", {"weight": "-1"}, "weight", "This is too small. Enter 0 or more."),
        (
            "coverage",
            {"share_at_least_1": "97"},
            "share_at_least_1",
            "97 is more than the 95 of the level above.",
        ),
        ("placement", {"inside_mm_0": "1.2"}, "inside_mm_0", "Lid gap inside a window"),
        ("time", {"level_3": ""}, "level_3", "Fill this in."),
    ],
)
def test_what_is_wrong_is_said_beside_its_field_and_nothing_typed_is_lost(
    cast, draft, client_for, code, changes, field, start
):
    criterion = draft.criteria.get(code=code)
    typed = criterion_sent(cast, criterion, level_4="My own words", **changes)
    page = client_for(cast.owner).post(url("rubric-criterion", criterion.pk), typed)
    assert page.status_code == 200
    assert page.context["form"].errors[field][0].startswith(start)
    assert "My own words" in page.content.decode()


def test_numbers_to_inspect_and_lines_are_changed_on_the_draft(cast, draft, client_for):
    client, page = client_for(cast.owner), url("rubric-edit", draft.pk)
    numbers = {"part": "sampling", "per_zone": "6", "gaps_per_zone": "3"}
    numbers |= {"directions_per_zone": "1", "pairs_per_zone": "2"}
    assert client.post(page, numbers).status_code == 302
    lines = sent(HygieneLinesForm(list(draft.hygiene_lines.all()), None))
    typed = lines | {"part": "lines", "text_0": "", "text_10": "Lamp checked", "critical_10": "on"}
    assert client.post(page, typed).status_code == 302
    draft.refresh_from_db()
    assert (draft.per_zone, draft.gaps_per_zone) == (6, 3)
    assert (draft.directions_per_zone, draft.pairs_per_zone) == (1, 2)
    codes = list(draft.hygiene_lines.values_list("code", flat=True))
    assert (codes[0], codes[-1], len(codes)) == ("surface", "line-1", 10)
    assert "line-1" in draft.criteria.get(kind="lines").rule["critical"]


def test_impossible_numbers_are_refused_with_a_sentence(cast, draft, client_for):
    numbers = {"part": "sampling", "per_zone": "2", "gaps_per_zone": "3"}
    numbers |= {"directions_per_zone": "1", "pairs_per_zone": "2"}
    page = client_for(cast.owner).post(url("rubric-edit", draft.pk), numbers)
    text = page.content.decode()
    assert "3 gaps to measure, but 2 fans are inspected in a zone. Give 0 to 2." in text
    assert 'name="gaps_per_zone" value="3"' in text


def test_a_draft_that_is_not_ready_says_why_and_stays_a_draft(cast, draft, client_for):
    draft.criteria.update(is_gate=False)
    page = client_for(cast.owner).post(url("rubric-publish", draft.pk))
    assert "Make at least one a gate." in page.content.decode()
    draft.refresh_from_db()
    assert not draft.is_published


def test_a_draft_is_discarded_after_a_question(cast, draft, client_for):
    client = client_for(cast.owner)
    assert "Everything changed in it is lost." in client.get(url("rubric-discard", draft.pk)).content.decode()
    assert RubricVersion.objects.count() == 2
    client.post(url("rubric-discard", draft.pk))
    assert RubricVersion.objects.count() == 1


def test_a_second_copy_leads_to_the_draft_there_is(cast, starter, draft, client_for):
    response = client_for(cast.owner).post(url("rubric-copy", starter.pk))
    assert response.url == url("rubric-edit", draft.pk)


@pytest.mark.parametrize("name", OWNER_ONLY)
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_published_version_is_only_read(cast, starter, client_for, name, method):
    response = getattr(client_for(cast.owner), method)(url(name, starter.pk), {"part": "lines"})
    assert response.url == url("rubric-version", starter.pk)
    criterion = url("rubric-criterion", starter.criteria.all()[0].pk)
    assert getattr(client_for(cast.owner), method)(criterion).url == url("rubric-version", starter.pk)
    assert starter.hygiene_lines.count() == 10


@pytest.mark.parametrize("name", [*OWNER_ONLY, "rubric-copy"])
def test_only_the_owner_of_this_academy_changes_a_rubric(cast, draft, client_for, name):
    for member in (cast.ines, cast.ada, cast.omar):
        assert client_for(member).post(url(name, draft.pk), {}).status_code == 403
    cast.omar.role = "owner"
    cast.omar.save()
    assert client_for(cast.omar).post(url(name, draft.pk), {}).status_code == 404


def test_a_criterion_is_changed_by_the_owner_of_this_academy_only(cast, draft, client_for):
    page = url("rubric-criterion", draft.criteria.all()[0].pk)
    assert client_for(cast.ines).get(page).status_code == 403
    cast.omar.role = "owner"
    cast.omar.save()
    assert client_for(cast.omar).get(page).status_code == 404


def test_a_foreign_version_is_not_here(cast, starter, client_for):
    for member in (cast.omar, cast.omar_student):
        assert client_for(member).get(url("rubric-version", starter.pk)).status_code == 404


def test_staff_choose_the_rubric_of_a_brief_among_published_versions(cast, starter, draft, client_for):
    brief = make_brief(cast.academy, cast.ines).brief
    page = url("brief-rubric", brief.pk)
    client = client_for(cast.ines)
    text = client.get(page).content.decode()
    assert "Starter rubric, version 1" in text
    assert "Starter rubric, version 2" not in text
    assert client.post(page, {"version": draft.pk}).status_code == 200
    assert client.post(page, {"version": starter.pk}).status_code == 302
    assert rubric_for(SetBrief.objects.get()) == starter
    assert client.post(page, {"version": ""}).status_code == 302
    assert client_for(cast.ada).get(page).status_code == 403
    assert client_for(cast.omar).get(page).status_code == 404
