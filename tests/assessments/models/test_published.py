"""A published rubric version stays as it is, whichever way somebody tries to change it."""

import pytest
from django.db.models import ProtectedError

from assessments.models import Criterion, HygieneLine, LevelDescriptor, RubricIsPublished, RubricVersion
from tests.factories.rubrics import rubric_draft, starter_rubric


@pytest.fixture
def published(cast):
    return starter_rubric(cast.academy, cast.owner)


def rows_of(version):
    """One row of every kind in the version's tree, the version itself first."""
    criterion = version.criteria.get(code="isolation")
    return [version, criterion, criterion.descriptors.get(level=0), version.hygiene_lines.get(code="hands")]


def content(version_id):
    return [
        list(RubricVersion.objects.filter(pk=version_id).values()),
        list(Criterion.objects.filter(version=version_id).values()),
        list(LevelDescriptor.objects.filter(criterion__version=version_id).order_by("pk").values()),
        list(HygieneLine.objects.filter(version=version_id).values()),
    ]


CHANGES = {
    RubricVersion: {"per_zone": 9},
    Criterion: {"weight": 9, "name": "Other", "rule": {}},
    LevelDescriptor: {"text": "Other"},
    HygieneLine: {"text": "Other", "is_critical": True},
}


def changed(row):
    for name, value in CHANGES[type(row)].items():
        setattr(row, name, value)
    return row


def with_update(row):
    type(row).objects.filter(pk=row.pk).update(**CHANGES[type(row)])


def with_update_through_all_rows(row):
    type(row).objects.update(**CHANGES[type(row)])


def with_bulk_update(row):
    type(row).objects.bulk_update([changed(row)], list(CHANGES[type(row)]))


def with_update_or_create(row):
    type(row).objects.update_or_create(pk=row.pk, defaults=CHANGES[type(row)])


def with_save(row):
    changed(row).save()


def with_partial_save(row):
    changed(row).save(update_fields=list(CHANGES[type(row)]))


def with_an_upsert(row):
    changed(row)
    type(row).objects.bulk_create(
        [row], update_conflicts=True, unique_fields=["id"], update_fields=list(CHANGES[type(row)])
    )


def with_delete(row):
    row.delete()


def with_delete_of_a_selection(row):
    type(row).objects.filter(pk=row.pk).delete()


WAYS = [
    with_save,
    with_partial_save,
    with_update,
    with_update_through_all_rows,
    with_bulk_update,
    with_update_or_create,
    with_an_upsert,
    with_delete,
    with_delete_of_a_selection,
]


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("place", range(4), ids=["version", "criterion", "descriptor", "hygiene line"])
def test_nothing_under_a_published_version_changes(published, way, place):
    before = content(published.pk)
    with pytest.raises(RubricIsPublished):
        way(rows_of(published)[place])
    assert content(published.pk) == before


@pytest.mark.parametrize("way", [way for way in WAYS if way is not with_update_through_all_rows])
@pytest.mark.parametrize("place", range(4), ids=["version", "criterion", "descriptor", "hygiene line"])
def test_the_same_ways_are_open_for_a_draft(cast, way, place):
    draft = rubric_draft(cast.academy, cast.owner)
    draft_id, before = draft.pk, content(draft.pk)
    way(rows_of(draft)[place])
    assert content(draft_id) != before


def test_nothing_is_added_to_a_published_version(published):
    criterion = published.criteria.all()[0]
    additions = [
        Criterion(
            version=published, code="extra", name="Extra", skill=criterion.skill, order=99, kind="judged"
        ),
        LevelDescriptor(criterion=criterion, level=4, text="Extra"),
        HygieneLine(version=published, code="extra", text="Extra", order=99),
    ]
    for row in additions:
        with pytest.raises(RubricIsPublished):
            row.save()
        with pytest.raises(RubricIsPublished):
            type(row).objects.bulk_create([row])
    with pytest.raises(RubricIsPublished):
        published.hygiene_lines.create(code="extra", text="Extra", order=99)


def test_no_row_moves_into_or_out_of_a_published_version(cast, published):
    draft = rubric_draft(cast.academy, cast.owner)
    mine, theirs = draft.hygiene_lines.get(code="hands"), published.hygiene_lines.get(code="hands")
    for row, target in ((mine, published), (theirs, draft)):
        row.version, row.code = target, "moved"
        with pytest.raises(RubricIsPublished):
            row.save()
    for rows, target in ((draft.hygiene_lines, published), (published.hygiene_lines, draft)):
        for name, value in (("version", target), ("version_id", target.pk)):
            with pytest.raises(RubricIsPublished):
                rows.filter(code="hands").update(**{name: value})


def test_a_version_is_not_unpublished(published):
    published.published_at = published.published_by = None
    with pytest.raises(RubricIsPublished):
        published.save()


def test_a_rubric_with_versions_is_not_deleted(published):
    with pytest.raises(ProtectedError):
        published.rubric.delete()
