"""The student gives and withdraws on a page of her own, with the words before her."""

import pytest
from django.urls import reverse
from pytest_django.asserts import assertContains, assertRedirects

from academy.models import Consent, Purpose
from academy.words import CONSENT_WORDINGS

pytestmark = pytest.mark.django_db
PAGE = "/consents/"


def test_every_purpose_is_shown_with_its_words(cast, client_for):
    page = client_for(cast.ada).get(PAGE)
    for wording in CONSENT_WORDINGS["1"].values():
        assertContains(page, wording.text, html=False)
    assertContains(page, "You have not answered yet.", count=len(Purpose.values))


def test_she_gives_and_withdraws(cast, client_for):
    client = client_for(cast.ada)
    for answer, told in (("yes", "Publicity: given."), ("no", "Publicity: withdrawn.")):
        sent = client.post(PAGE, {"purpose": "publicity", "answer": answer}, follow=True)
        assertRedirects(sent, reverse("academy:consents"))
        assertContains(sent, told)
    assert list(Consent.objects.values_list("given", "recorded_by")) == [
        (True, cast.ada.pk),
        (False, cast.ada.pk),
    ]


def test_what_follows_from_a_withdrawal_is_told_beside_the_button(cast, client_for):
    client = client_for(cast.ada)
    client.post(PAGE, {"purpose": "assessment_record", "answer": "yes"})
    assertContains(client.get(PAGE), "The gate to live models shuts.")


def test_an_unknown_purpose_is_refused_in_words(cast, client_for):
    answer = client_for(cast.ada).post(PAGE, {"purpose": "hat_size", "answer": "yes"})
    assertContains(answer, "Choose one of the consents on the page", status_code=409)


def test_the_menu_leads_there_for_students_only(cast, client_for):
    assertContains(client_for(cast.ada).get("/stand/"), f'href="{PAGE}"')
    assert PAGE.encode() not in client_for(cast.ines).get("/today/").content
