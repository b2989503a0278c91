"""The last line of defence of consents: every rule of the database bites."""

import pytest
from django.db import connection

from academy.models import Consent
from tests.assessments.models.constraints import bitten, change, first

pytestmark = pytest.mark.django_db

CASES = {
    "consent_known_purpose": lambda _: change(first(Consent), purpose="hat_size"),
    "consent_names_its_wording": lambda _: change(first(Consent), wording_version=""),
}


@pytest.mark.parametrize("name", CASES)
def test_every_constraint_bites_by_its_own_name(cast, now, name):
    Consent.objects.create(
        member=cast.ada, purpose="publicity", wording_version="1", given=True, recorded_by=cast.ada, at=now
    )
    said = bitten(CASES[name], None)
    assert name in said if connection.vendor == "sqlite" else said == name


def test_no_constraint_of_consents_is_left_untried():
    assert {rule.name for rule in Consent._meta.constraints} == set(CASES)
