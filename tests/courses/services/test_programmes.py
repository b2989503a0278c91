from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from academy.errors import DomainError
from academy.models import AuditEntry
from courses.models import Programme, ProgrammeIsPublished, ProgrammeUnit, ProgrammeVersion
from courses.programme.content import Gate, Unit
from courses.services.programmes import (
    ProgrammeCannotBe,
    ProgrammeDraftExists,
    ProgrammeNameTaken,
    ProgrammeRetired,
    add_programme,
    change_programme_draft,
    copy_programme_version,
    discard_programme_draft,
    install_starter_programme,
    publish_programme_version,
    rename_programme,
    retire_programme,
    starter,
)
from tests.factories.programmes import (
    HYGIENE,
    INFILL,
    REMOVAL,
    make_programme,
    make_programme_draft,
    next_version,
    programme_content,
)


def codes(version):
    return list(version.units.values_list("code", flat=True))


def test_the_starter_asserts_no_hours_and_waits_as_a_draft(cast, now):
    draft = install_starter_programme(academy=cast.academy, actor=cast.owner, now=now)
    assert not draft.is_published
    assert (draft.theory_hours, draft.practical_hours, draft.hours_source) == (None, None, "")
    with pytest.raises(ProgrammeCannotBe) as refused:
        publish_programme_version(version=draft, actor=cast.owner, now=now)
    fields = [problem.field for problem in refused.value.problems]
    assert fields == ["theory_hours", "practical_hours", "hours_source", "hours_source_on", "scope"]


def test_the_starter_holds_the_exercises_that_a_regulator_requires_before_live_work():
    """Minn. R. 2110.0580 requires three clinical exercises: applying extensions, removal, a patch test."""
    _, content = starter()
    before_live = {unit.code for unit in content.units if unit.before_live}
    assert {"singles", "fans", "removal", "patch-test"} <= before_live
    assert all(unit.before_live for unit in content.units if unit.kind == "theory")


def test_the_starter_is_installed_once_and_stays_what_the_academy_made_of_it(cast, now):
    first = install_starter_programme(academy=cast.academy, actor=cast.owner, now=now)
    change_programme_draft(version=first, content=programme_content(), actor=cast.owner, now=now)
    again = install_starter_programme(academy=cast.academy, actor=cast.owner, now=now)
    assert (again.pk, codes(again)) == (first.pk, ["hygiene", "removal", "infill"])
    assert Programme.objects.count() == 1


def test_a_name_is_taken_whatever_its_case_but_only_in_the_same_academy(cast, now):
    add_programme(academy=cast.other_academy, name="Foundation", actor=cast.omar, now=now)
    add_programme(academy=cast.academy, name="Foundation", actor=cast.owner, now=now)
    with pytest.raises(ProgrammeNameTaken) as refused:
        add_programme(academy=cast.academy, name="FOUNDATION", actor=cast.owner, now=now)
    assert refused.value.details["field"] == "name"


def test_a_programme_is_renamed_in_every_version_unless_the_name_is_taken(cast, now):
    version = make_programme(cast.owner, "Foundation")
    make_programme(cast.owner, "Volume")
    rename_programme(programme=version.programme, name="Basics", actor=cast.owner, now=now)
    assert str(ProgrammeVersion.objects.get(pk=version.pk)) == "Basics, version 1"
    with pytest.raises(ProgrammeNameTaken):
        rename_programme(programme=version.programme, name="volume", actor=cast.owner, now=now)


def test_a_draft_says_what_was_typed_and_the_record_tells_before_and_after(cast, now):
    draft = add_programme(academy=cast.academy, name="Foundation", actor=cast.owner, now=now)
    content = programme_content(gate=Gate(graded_sets=6), hours_source_on=date(2026, 3, 2))
    changed = change_programme_draft(version=draft, content=content, actor=cast.owner, now=now)
    changed.refresh_from_db()
    assert changed.content == content
    entry = AuditEntry.objects.get(action="change_programme_draft")
    assert (entry.before["theory_hours"], entry.after["theory_hours"]) == (None, "10")
    assert entry.after["gate"]["graded_sets"] == 6


def test_what_cannot_stand_is_refused_and_nothing_is_changed(cast, now):
    draft = make_programme_draft(cast.owner)
    wrong = programme_content(units=(HYGIENE, replace(INFILL, title="hygiene and DISINFECTION")))
    with pytest.raises(ProgrammeCannotBe, match="Give each a title of its own"):
        change_programme_draft(version=draft, content=wrong, actor=cast.owner, now=now)
    tomorrow = programme_content(hours_source_on=date(2026, 3, 3))
    with pytest.raises(ProgrammeCannotBe, match="still to come"):
        change_programme_draft(version=draft, content=tomorrow, actor=cast.owner, now=now)
    assert codes(draft) == ["hygiene", "removal", "infill"]


def test_units_keep_their_order_and_a_new_one_gets_a_code_nobody_had(cast, now):
    draft = make_programme_draft(cast.owner)
    content = programme_content(units=(REMOVAL, Unit("Posture", "theory"), HYGIENE))
    change_programme_draft(version=draft, content=content, actor=cast.owner, now=now)
    assert codes(draft) == ["removal", "unit-1", "hygiene"]


def test_the_code_of_a_dropped_unit_is_never_given_to_another(cast, now):
    first = make_programme(cast.owner, units=(HYGIENE, Unit("Posture", "theory")))
    second = next_version(first, cast.owner, units=(HYGIENE,))
    third = next_version(second, cast.owner, units=(HYGIENE, Unit("Light", "theory")))
    assert (codes(first), codes(third)) == (["hygiene", "unit-1"], ["hygiene", "unit-2"])


def test_a_published_version_never_changes(cast, now):
    version = make_programme(cast.owner)
    for attempt in (
        lambda: change_programme_draft(
            version=version, content=programme_content(), actor=cast.owner, now=now
        ),
        lambda: publish_programme_version(version=version, actor=cast.owner, now=now),
        lambda: discard_programme_draft(version=version, actor=cast.owner, now=now),
    ):
        with pytest.raises(ProgrammeIsPublished):
            attempt()


def test_a_copy_has_everything_of_the_version_and_there_is_one_draft_at_a_time(cast, now):
    version = make_programme(cast.owner, gate=Gate(theory_hours=Decimal(8)))
    draft = copy_programme_version(version=version, actor=cast.owner, now=now)
    assert (draft.number, draft.content, draft.is_published) == (2, version.content, False)
    with pytest.raises(ProgrammeDraftExists) as refused:
        copy_programme_version(version=version, actor=cast.owner, now=now)
    assert refused.value.details["draft_id"] == draft.pk


def test_a_discarded_draft_goes_and_published_versions_stay(cast, now):
    version = make_programme(cast.owner)
    draft = copy_programme_version(version=version, actor=cast.owner, now=now)
    discard_programme_draft(version=draft, actor=cast.owner, now=now)
    assert [each.pk for each in ProgrammeVersion.objects.all()] == [version.pk]
    assert ProgrammeUnit.objects.filter(version=version).count() == 3


def test_a_programme_never_published_goes_with_its_only_draft(cast, now):
    draft = make_programme_draft(cast.owner)
    discard_programme_draft(version=draft, actor=cast.owner, now=now)
    assert not Programme.objects.exists()
    with pytest.raises(DomainError, match="no such draft"):
        discard_programme_draft(version=draft, actor=cast.owner, now=now)


def test_a_retired_programme_is_kept_and_nothing_of_it_changes_any_more(cast, now):
    version = make_programme(cast.owner)
    draft = copy_programme_version(version=version, actor=cast.owner, now=now)
    retire_programme(programme=version.programme, actor=cast.owner, now=now)
    for attempt in (
        lambda: copy_programme_version(version=version, actor=cast.owner, now=now),
        lambda: rename_programme(programme=version.programme, name="Other", actor=cast.owner, now=now),
        lambda: retire_programme(programme=version.programme, actor=cast.owner, now=now),
        lambda: change_programme_draft(version=draft, content=programme_content(), actor=cast.owner, now=now),
        lambda: publish_programme_version(version=draft, actor=cast.owner, now=now),
        lambda: discard_programme_draft(version=draft, actor=cast.owner, now=now),
    ):
        with pytest.raises(ProgrammeRetired):
            attempt()
    assert Programme.objects.get().retired_at == now
