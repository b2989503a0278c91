"""A published programme version stays as it is, whichever way somebody tries to change it."""

import pytest

from academy.models import VersionIsPublished
from courses.models import ProgrammeIsPublished, ProgrammeUnit, ProgrammeVersion
from tests.factories.programmes import make_programme, make_programme_draft


@pytest.fixture
def published(cast):
    return make_programme(cast.owner)


def content(version):
    rows = ProgrammeUnit.objects.filter(version=version).values()
    return list(ProgrammeVersion.objects.filter(pk=version.pk).values()), list(rows)


WAYS = {
    "update": lambda v: ProgrammeVersion.objects.filter(pk=v.pk).update(theory_hours=1),
    "unpublish": lambda v: ProgrammeVersion.objects.filter(pk=v.pk).update(published_at=None),
    "save another row in its place": lambda v: ProgrammeVersion(
        pk=v.pk, programme=v.programme, number=7, made_by=v.made_by
    ).save(),
    "delete": lambda v: v.delete(),
    "update units": lambda v: ProgrammeUnit.objects.filter(version=v).update(before_live=False),
    "delete units": lambda v: ProgrammeUnit.objects.filter(version=v).delete(),
    "delete one unit": lambda v: v.units.first().delete(),
    "add a unit": lambda v: v.units.create(code="extra", title="Extra", kind="theory", position=9),
    "add units": lambda v: ProgrammeUnit.objects.bulk_create(
        [ProgrammeUnit(version=v, code="extra", title="Extra", kind="theory", position=9)]
    ),
    "bulk update": lambda v: ProgrammeUnit.objects.bulk_update(
        [ProgrammeUnit(pk=v.units.first().pk, version=v, title="Other")], ["title"]
    ),
}


@pytest.mark.parametrize("name", WAYS)
def test_nothing_under_a_published_version_changes(published, name):
    before = content(published)
    with pytest.raises(ProgrammeIsPublished, match="This programme version is published"):
        WAYS[name](published)
    assert content(published) == before


@pytest.mark.parametrize("name", [name for name in WAYS if not name.startswith("save another")])
def test_the_same_ways_are_open_for_a_draft(cast, name):
    WAYS[name](make_programme_draft(cast.owner))


def test_no_unit_moves_into_or_out_of_a_published_version(cast, published):
    draft = make_programme_draft(cast.owner, "Another course")
    for unit, target in ((draft.units.first(), published), (published.units.first(), draft)):
        unit.version, unit.code, unit.position = target, "moved", 9
        with pytest.raises(VersionIsPublished):
            unit.save()
    with pytest.raises(ProgrammeIsPublished):
        draft.units.update(version=published)
