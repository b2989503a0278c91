import pytest
from django.urls import reverse

from courses.forms.map_guide import MapGuideForm
from courses.models import MapGuide
from courses.selectors.map_guides import map_guide
from tests.factories.courses import make_brief

URL = "courses:map-guide"


def typed(cast, **changes):
    """What a browser sends when the page is saved as it was shown."""
    form = MapGuideForm(instance=MapGuide.usual(cast.academy))
    shown = {name: form[name].value() for name in form.fields}
    return {name: str(value) for name, value in shown.items() if value is not None} | changes


def test_every_field_of_the_form_stands_on_the_page(cast, client_for):
    text = client_for(cast.owner).get(reverse(URL)).content.decode()
    missing = [name for name in MapGuideForm(instance=MapGuide()).fields if f'name="{name}"' not in text]
    assert missing == []


def test_a_guide_is_saved_and_the_briefs_are_checked_by_it(cast, client_for):
    client = client_for(cast.owner)
    assert client.post(reverse(URL), typed(cast, limit_5="4", limit_7="")).url == reverse(URL)
    assert map_guide(cast.academy).limits == {3: 16, 5: 4}
    brief = make_brief(cast.academy, cast.ines).brief  # fans of 5 × 0.05 mm
    assert "at most 4" in client.get(reverse("courses:brief", args=[brief.pk])).content.decode()


def test_saving_what_is_shown_changes_nothing(cast, client_for):
    client_for(cast.owner).post(reverse(URL), typed(cast))
    assert not MapGuide.objects.exists()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"zone_step_mm": "many"}, "This is no whole number."),
        ({"limit_5": "31"}, "This is too large. Enter 30 or less."),
        ({"past_natural_most_mm": "1"}, "The warning comes after the hint"),
        ({"waste_percent": ""}, "Fill this in."),
    ],
)
def test_what_is_wrong_gets_a_sentence_and_nothing_typed_is_lost(cast, client_for, changes, sentence):
    page = client_for(cast.owner).post(reverse(URL), typed(cast, limit_3="11", **changes))
    assert page.status_code == 200
    text = page.content.decode()
    assert sentence in text and 'name="limit_3" value="11"' in text
    assert not MapGuide.objects.exists()


def test_only_the_owner_sets_the_guide(cast, client_for):
    for member in (cast.ines, cast.ada):
        assert client_for(member).get(reverse(URL)).status_code == 403
        assert client_for(member).post(reverse(URL), typed(cast)).status_code == 403
