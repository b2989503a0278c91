from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from courses.mapping.counts import plan_counts
from courses.mapping.supplies import SUPPLY_COLUMNS, SupplySettings, session_supplies
from tests.courses.mapping.maps import lash_maps, soft_volume, texture

# 16 strips of 100 filaments: round figures for sums on paper.
TRAY = SupplySettings(filaments_per_tray=1600, strips_per_tray=16, waste_percent=10, refresh_minutes=20)
TEXTURE = texture((8, 80), (12, 20))


def supplies(students=1, minutes=150, lash_map=TEXTURE):
    return session_supplies(lash_map, plan_counts(lash_map, 40), minutes, TRAY, students=students)


def test_a_set_needs_filaments_by_length_with_waste():
    # 80 fans, 64 of 8 mm and 16 of 12 mm, three filaments each; 10 % more, rounded up: 211.2 and 52.8.
    short, long = supplies().filaments
    assert (short.length_mm, short.fans, short.filaments, short.with_waste) == (8, 64, 192, 212)
    assert (long.length_mm, long.fans, long.filaments, long.with_waste) == (12, 16, 48, 53)
    assert (short.strips, short.trays, long.strips, long.trays) == (3, 1, 1, 1)


def test_a_session_shares_its_trays():
    # 10 students: 1920 filaments, 2112 with waste: 22 strips of 100, 2 trays of 1600.
    short, _ = supplies(students=10).filaments
    assert (short.filaments, short.with_waste, short.strips, short.trays) == (1920, 2112, 22, 2)


@pytest.mark.parametrize(("minutes", "drops"), [(150, 8), (160, 8), (161, 9), (20, 1), (1, 1)])
def test_a_fresh_drop_is_due_at_the_start_of_every_interval(minutes, drops):
    assert supplies(minutes=minutes).adhesive_drops == drops
    assert supplies(minutes=minutes, students=4).adhesive_drops == 4 * drops


@settings(max_examples=25)
@given(lash_maps(), st.integers(1, 120))
def test_fans_add_up_to_the_plan_and_no_filament_is_missing(lash_map, fans):
    plan = plan_counts(lash_map, fans)
    needs = session_supplies(lash_map, plan, 120, TRAY).filaments
    assert sum(need.fans for need in needs) == plan.total
    for need in needs:
        assert need.with_waste >= need.filaments
        assert need.trays * 1600 >= need.strips * 100 >= need.with_waste


def test_rows_fit_their_columns():
    rows = list(supplies().rows())
    assert {len(row) for row in rows} == {len(SUPPLY_COLUMNS)}
    assert rows[0] == (1, "filaments", "0.07", "D", 8, 64, 192, 212, 3, 1, None)
    assert dict(zip(SUPPLY_COLUMNS, rows[0], strict=True))["with_waste"] == 212
    assert rows[-1][:2] == (1, "adhesive") and rows[-1][-1] == 8


def test_layers_of_one_kind_are_counted_together():
    lengths = [need.length_mm for need in supplies(lash_map=soft_volume()).filaments]
    assert lengths == [8, 9, 10]


@pytest.mark.parametrize(
    "changes",
    [
        {"filaments_per_tray": 10},
        {"strips_per_tray": 0},
        {"waste_percent": -1},
        {"waste_percent": 301},
        {"refresh_minutes": 0},
        {"drops_a_refresh": 0},
    ],
)
def test_impossible_settings_are_refused(changes):
    with pytest.raises(ValueError, match=r"at least|out of range"):
        replace(TRAY, **changes)


@pytest.mark.parametrize(("students", "minutes"), [(0, 60), (1, 0)])
def test_nobody_and_no_time_use_nothing(students, minutes):
    with pytest.raises(ValueError, match="at least 1 student and 1 minute"):
        supplies(students=students, minutes=minutes)
