from courses.mapping.checks import CheckSettings
from courses.models import MapGuide
from courses.selectors.map_guides import map_guide


def test_an_academy_that_has_said_nothing_teaches_the_usual(cast):
    guide = map_guide(cast.academy)
    assert guide.pk is None
    assert guide.checks == CheckSettings()
    # Common practice, no source: 16 filaments of 0.03, 7 of 0.05, 4 of 0.07.
    assert guide.limits == {3: 16, 5: 7, 7: 4}
    assert (guide.supplies.waste_percent, guide.supplies.refresh_minutes) == (15, 20)
    assert float(guide.density_mg_mm3) == 1.31  # PBT data sheets, 1.30 to 1.31 g/cm³ (ASTM D792)


def test_an_academy_reads_its_own_guide_and_no_other(cast, django_assert_num_queries):
    MapGuide.objects.create(academy=cast.other_academy, zone_step_mm=2, programme_limits={"5": 6})
    with django_assert_num_queries(1):
        assert map_guide(cast.academy).checks.zone_step_mm == 1
    other = map_guide(cast.other_academy)
    assert (other.checks.zone_step_mm, other.limits) == (2, {5: 6})


def test_a_guide_without_limits_has_none(cast):
    MapGuide.objects.create(academy=cast.academy, programme_limits={})
    assert map_guide(cast.academy).checks.programme_limits == {}
