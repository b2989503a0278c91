"""Two owners add a cohort of one name at the same instant."""

from datetime import date
from functools import partial

import pytest

from academy.models import Cohort
from academy.services.academies import CohortNameTaken, add_cohort
from tests.factories.parallel import at_once

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]


def test_one_has_the_name_and_the_other_is_told(cast, now):
    add = partial(
        add_cohort, actor=cast.owner, name="Spring", starts_on=date(2026, 3, 2), ends_on=None, now=now
    )
    answers = at_once(add, add)
    (won,) = [answer for answer in answers if isinstance(answer, Cohort)]
    assert [type(answer) for answer in answers if answer is not won] == [CohortNameTaken]
