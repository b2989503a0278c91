"""An owner sets what her academy teaches; what cannot be is refused in a sentence."""

from decimal import Decimal

import pytest

from academy.errors import DomainError
from academy.models import AuditEntry
from courses.models import MapGuide
from courses.selectors.map_guides import map_guide
from courses.services.map_guides import EDITABLE, change_map_guide


def change(cast, now, **changes):
    return change_map_guide(academy=cast.academy, changes=changes, actor=cast.owner, now=now)


def test_the_first_change_keeps_the_usual_for_the_rest(cast, now):
    change(cast, now, zone_step_mm=2)
    guide = map_guide(cast.academy)
    assert (guide.zone_step_mm, guide.filler_gap_mm, guide.limits) == (2, 3, {3: 16, 5: 7, 7: 4})


def test_the_record_keeps_what_differs_and_nothing_else(cast, now):
    change(cast, now, zone_step_mm=2, waste_percent=15, density_mg_mm3=Decimal("1.30"))
    entry = AuditEntry.objects.get()
    assert (entry.action, entry.actor) == ("change_map_guide", cast.owner)
    assert entry.before == {"zone_step_mm": 1, "density_mg_mm3": "1.31"}
    assert entry.after == {"zone_step_mm": 2, "density_mg_mm3": "1.30"}


def test_saving_the_same_again_leaves_no_trace(cast, now):
    change(cast, now, zone_step_mm=2)
    change(cast, now, zone_step_mm=2)
    assert (MapGuide.objects.count(), AuditEntry.objects.count()) == (1, 1)


def test_limits_may_all_go(cast, now):
    change(cast, now, programme_limits={})
    assert map_guide(cast.academy).limits == {}


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"zone_step_mm": 9}, "zone_step_mm", "less than or equal to 5"),
        ({"peaks_below_percent": 0}, "peaks_below_percent", "greater than or equal to 1"),
        ({"density_mg_mm3": Decimal("13.1")}, "density_mg_mm3", ""),
        ({"past_natural_most_mm": 1}, "__all__", "The warning comes after the hint"),
        ({"filaments_per_tray": 20, "strips_per_tray": 30}, "__all__", "at least 1 filament"),
        ({"programme_limits": {"5": 31}}, "programme_limits", "A limit of 31 filaments of 0.05 mm"),
        ({"programme_limits": {"5": 0}}, "programme_limits", "A limit of 0 filaments"),
        ({"programme_limits": {"9": 3}}, "programme_limits", "9 hundredths"),
        ({"programme_limits": {"5": True}}, "programme_limits", "A limit of True"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(cast, now, changes, field, said):
    with pytest.raises(DomainError) as caught:
        change(cast, now, **changes)
    assert caught.value.details["field"] == field and said in caught.value.message
    assert not MapGuide.objects.exists() and not AuditEntry.objects.exists()


def test_every_column_can_be_set():
    columns = {field.name for field in MapGuide._meta.concrete_fields}
    assert set(EDITABLE) == columns - {"id", "academy"}
