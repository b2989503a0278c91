"""A brief grows by versions; no version ever changes."""

from dataclasses import replace

import pytest

from academy.errors import DomainError
from academy.models import AuditEntry, RecordIsFinal
from courses.models import BriefVersion, SetBrief
from courses.selectors.briefs import newest_version
from courses.services.briefs import add_brief, content_of, retire_brief, revise_brief
from tests.factories.courses import brief_content, make_brief


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
    assert error.details["field"] == "curl"
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
    content = replace(brief_content(), filaments=3)
    refusal("brief_retired", revise_brief, brief=version.brief, content=content, actor=cast.ines, now=now)
    refusal("brief_retired", retire_brief, brief=version.brief, actor=cast.ines, now=now)


def test_a_version_and_its_parts_refuse_every_change(cast):
    version = make_brief(cast.academy, cast.ines)
    cell, target = version.cells.all()[0], version.targets.all()[0]
    for row in (version, cell, target):
        with pytest.raises(RecordIsFinal):
            row.save()
        with pytest.raises(RecordIsFinal):
            row.delete()
        with pytest.raises(RecordIsFinal):
            type(row).objects.filter(pk=row.pk).update(pk=row.pk)
