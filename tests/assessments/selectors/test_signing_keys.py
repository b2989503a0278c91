"""A key signs only once it is published; published it stays."""

from datetime import timedelta

import pytest

from academy.signing_keys import NoSigningKey, make_key
from assessments.credentials.keys import public_jwk, thumbprint
from assessments.selectors.signing_keys import published_keys, signing_key
from assessments.services.signing_keys import make_signing_key
from tests.factories.academy import JOINED, Cast
from tests.factories.signing_keys import lend_key

pytestmark = pytest.mark.django_db


def test_without_a_key_nothing_signs(cast: Cast):
    with pytest.raises(NoSigningKey):
        signing_key(cast.academy.pk)


def test_a_key_that_nobody_can_check_with_does_not_sign(cast: Cast):
    lend_key(cast.academy.pk)
    with pytest.raises(NoSigningKey):
        signing_key(cast.academy.pk)


def test_the_newest_published_key_signs_and_the_earlier_stay(cast: Cast):
    first = make_signing_key(academy=cast.academy, now=JOINED)
    second = make_signing_key(academy=cast.academy, now=JOINED + timedelta(days=1))
    assert signing_key(cast.academy.pk)[1] == second.thumbprint
    assert list(published_keys(cast.academy.pk)) == [first, second]
    unpublished = thumbprint(public_jwk(make_key(cast.academy.pk)))
    assert signing_key(cast.academy.pk)[1] == second.thumbprint != unpublished


def test_each_academy_has_its_own(cast: Cast):
    make_signing_key(academy=cast.academy, now=JOINED)
    assert not published_keys(cast.other_academy.pk).exists()
