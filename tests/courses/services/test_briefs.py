"""A brief grows by versions; no version ever changes."""

from dataclasses import replace

import pytest

from academy.errors import DomainError
from academy.models import AuditEntry, RecordIsFinal
from courses.mapping.lash_map import Cell, LengthShare
from courses.models import BriefVersion, SetBrief
from courses.selectors.briefs import newest_version
from courses.services.briefs import add_brief, content_of, copy_brief, retire_brief, revise_brief
from tests.factories.courses import brief_content, make_brief, plain_map


def refusal(code, service, **arguments):
    with pytest.raises(DomainError) as caught:
        service(**arguments)
    assert caught.value.code == code
    return caught.value


def test_a_brief_reads_back_as_it_was_written(cast, now):
    made = add_brief(academy=cast.academy, content=brief_content(), actor=cast.ines, now=now)
    assert made.number == 1
    assert content_of(newest_version(made.brief)) == brief_content()
    assert AuditEntry.objects.get().action == "add_brief"


def test_a_wrong_brief_is_refused_with_its_field_and_leaves_nothing_behind(cast, now):
    wrong = brief_content(curl="Z")
    error = refusal(
        "brief_content_wrong", add_brief, academy=cast.academy, content=wrong, actor=cast.ines, now=now
    )
    assert error.details["field"] == "lash_map" and error.details["pointer"].endswith("/curl")
    assert not SetBrief.objects.exists()


def test_a_name_is_taken_whatever_its_case(cast, now):
    make_brief(cast.academy, cast.ines)
    content = brief_content(name="SOFT VOLUME")
    refusal("brief_name_taken", add_brief, academy=cast.academy, content=content, actor=cast.ines, now=now)
    assert add_brief(academy=cast.other_academy, content=content, actor=cast.omar, now=now)


def test_a_revision_is_a_new_version_and_the_old_one_stays(cast, now):
    old = make_brief(cast.academy, cast.ines)
    content = brief_content(filaments=4, targets=((1, 280), (4, 200)))
    new = revise_brief(brief=old.brief, content=content, actor=cast.second, now=now)
    assert new.number == 2
    assert content_of(newest_version(old.brief)) == content
    assert content_of(BriefVersion.objects.get(pk=old.pk)) == brief_content()


def test_a_new_name_alone_makes_no_version(cast, now):
    old = make_brief(cast.academy, cast.ines)
    same = revise_brief(
        brief=old.brief, content=brief_content(name="Gentle volume"), actor=cast.ines, now=now
    )
    assert same.pk == old.pk
    assert SetBrief.objects.get().name == "Gentle volume"


def test_saving_the_same_again_makes_no_version(cast, now):
    old = make_brief(cast.academy, cast.ines)
    refusal(
        "brief_unchanged", revise_brief, brief=old.brief, content=brief_content(), actor=cast.ines, now=now
    )
    assert BriefVersion.objects.count() == 1


def test_a_revision_of_an_outdated_version_is_stopped_once(cast, now):
    brief = make_brief(cast.academy, cast.ines).brief
    revise_brief(brief=brief, content=brief_content(filaments=4), actor=cast.second, now=now, base=1)
    mine = brief_content(filaments=3)
    error = refusal(
        "brief_moved_on", revise_brief, brief=brief, content=mine, actor=cast.ines, now=now, base=1
    )
    assert "version 2" in error.message
    assert revise_brief(brief=brief, content=mine, actor=cast.ines, now=now, base=2).number == 3


def test_a_retired_brief_is_kept_and_gains_no_version(cast, now):
    version = make_brief(cast.academy, cast.ines)
    retire_brief(brief=version.brief, actor=cast.ines, now=now)
    assert SetBrief.objects.get().retired_at == now
    content = brief_content(filaments=3)
    refusal("brief_retired", revise_brief, brief=version.brief, content=content, actor=cast.ines, now=now)
    refusal("brief_retired", retire_brief, brief=version.brief, actor=cast.ines, now=now)


def test_a_version_and_its_parts_refuse_every_change(cast):
    version = make_brief(cast.academy, cast.ines)
    for row in (version, version.targets.all()[0]):
        with pytest.raises(RecordIsFinal):
            row.save()
        with pytest.raises(RecordIsFinal):
            row.delete()
        with pytest.raises(RecordIsFinal):
            type(row).objects.filter(pk=row.pk).update(pk=row.pk)


def textured_map():
    """Closed fans with peaks in the top layer, open fans of finer filaments below."""
    peaked = replace(plain_map(fan_shape="closed", filaments=3, diameter_hundredths=7), textured=True)
    mix = (LengthShare(8, 80), LengthShare(12, 20))
    top = {key: Cell(mix, cell.fan) for key, cell in peaked.cells.items() if key[2] == "top"}
    return replace(peaked, cells={**plain_map().cells, **top})


def test_a_map_of_mixed_lengths_and_fans_reads_back_whole(cast, now):
    content = brief_content(
        lash_map=textured_map(),
        difficulty="advanced",
        silenced={"layers_apart both/inner/top both/inner/bottom": "meant"},
    )
    made = add_brief(academy=cast.academy, content=content, actor=cast.ines, now=now)
    assert content_of(newest_version(made.brief)) == content


def test_lists_read_the_main_fan_and_every_fan_without_the_map(cast):
    version = make_brief(cast.academy, cast.ines, lash_map=textured_map())
    # Four cells of each: the one nearest the inner corner of the top layer leads.
    assert (version.fan_shape, version.filaments, version.diameter_hundredths) == ("closed", 3, 7)
    assert version.fan_kinds == " closed-7 open-5 "
    assert (version.zones, version.layers) == (
        ["inner", "inner_mid", "outer_mid", "outer"],
        ["top", "bottom"],
    )


def test_a_copy_starts_from_any_version_and_goes_its_own_way(cast, now):
    old = make_brief(cast.academy, cast.ines, filaments=4)
    revise_brief(brief=old.brief, content=brief_content(filaments=3), actor=cast.ines, now=now)
    copy = copy_brief(version=old, name="Gentle volume", actor=cast.second, now=now)
    assert (copy.number, copy.filaments, copy.brief.name) == (1, 4, "Gentle volume")
    assert copy.brief_id != old.brief_id and newest_version(old.brief).filaments == 3
    entry = AuditEntry.objects.filter(action="copy_brief").get()
    assert entry.before == {"brief": old.brief_id, "version": 1}
    refusal("brief_name_taken", copy_brief, version=old, name="gentle volume", actor=cast.ines, now=now)


def test_a_retired_brief_can_still_be_copied(cast, now):
    old = make_brief(cast.academy, cast.ines)
    retire_brief(brief=old.brief, actor=cast.ines, now=now)
    assert copy_brief(version=old, name="Soft volume again", actor=cast.ines, now=now).number == 1
