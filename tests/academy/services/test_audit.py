import pytest

from academy.models import AuditEntry, RecordIsFinal
from academy.services.audit import record

pytestmark = pytest.mark.django_db


def test_an_entry_says_who_did_what_to_which_row_and_why(cast, now):
    entry = record(
        cast.owner, "change_role", cast.ada, now=now, reason="asked to", before={"a": 1}, after={"a": 2}
    )
    entry.refresh_from_db()
    assert (entry.academy, entry.actor, entry.at, entry.reason) == (cast.academy, cast.owner, now, "asked to")
    assert (entry.object_type, entry.object_id) == ("academy.membership", str(cast.ada.pk))
    assert (entry.before, entry.after) == ({"a": 1}, {"a": 2})


def test_an_entry_is_never_changed_nor_removed(cast, now):
    entry = record(cast.owner, "change_role", cast.ada, now=now)
    for touch in (entry.save, entry.delete, AuditEntry.objects.all().delete):
        with pytest.raises(RecordIsFinal):
            touch()
    with pytest.raises(RecordIsFinal):
        AuditEntry.objects.update(reason="other")
