"""Every role is shown the way to its own pages and to no others."""

import pytest
from django.test import RequestFactory

from academy.context import house

pytestmark = pytest.mark.django_db


def links(member, path="/"):
    request = RequestFactory().get(path)
    request.member, request.user, request.session = member, member and member.user, {}
    return house(request)["navigation"]


@pytest.mark.parametrize(
    ("who", "last", "count"),
    [("owner", "People", 9), ("ines", "Agreement", 8), ("ada", "My certificates", 6)],
)
def test_each_role_has_its_own_way_about(cast, who, last, count):
    labels = [link.label for link in links(getattr(cast, who))]
    assert (labels[-1], len(labels)) == (last, count)


def test_the_page_one_is_on_is_marked(cast):
    assert [link.label for link in links(cast.owner, "/people/invite/") if link.current] == ["People"]


def test_nobody_without_a_place_is_shown_a_way():
    assert links(None) == []
