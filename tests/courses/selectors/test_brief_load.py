from courses.models import MapGuide
from courses.selectors.brief_load import load_lines
from tests.factories.courses import plain_map


def line(diameter, **guide):
    made = plain_map(diameter_hundredths=diameter)
    return load_lines(made, MapGuide(programme_limits=guide.pop("limits", {}), **guide))[0]


def test_without_a_limit_the_arithmetic_rules():
    words = line(5).ruling_words
    assert words == (
        "Arithmetic ceiling 9 filaments; the programme sets no limit for this diameter; "
        "the arithmetic rules: at most 9."
    )


def test_a_limit_above_the_ceiling_does_not_raise_it():
    assert line(7, limits={"7": 9}).ruling.most == 4  # 225 // 49 on paper


def test_equal_limits_say_so():
    assert line(5, limits={"5": 9}).ruling_words.endswith("both say at most 9.")


def test_the_reference_is_programme_data():
    # The published row of a 0.12 single: five filaments of 0.05.
    assert line(5, reference_hundredths=12).ruling.arithmetic_ceiling == 5


def test_one_build_has_one_line_and_each_of_its_mixes_a_load():
    (only,) = load_lines(plain_map(), MapGuide())
    # Lengths 8 to 11 mm of one fan: four mixes of one length each.
    assert only.where == "everywhere"
    assert [mix.longest_mm for mix in only.mixes] == [9, 10, 11, 8]
    assert {mix.percent for mix in only.mixes} == {only.ruling.percent}
    # 0.05 × 10 mm at 1.31 mg/mm³: 0.0257 mg a filament (PBT data sheets); five of 8 mm and of 11 mm.
    assert only.mass_words == "0.10 to 0.14 mg a fan"
