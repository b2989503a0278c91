"""The printed brief says all that is planned, can be read aloud, and is the same file every time."""

import subprocess
import sys
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from hypothesis import HealthCheck, given, settings
from pikepdf import Name
from pypdf import PdfReader

from courses.documents import PAPERS, SUPPLY_SCHEMA, set_brief, set_brief_data, set_brief_name
from courses.mapping.lash_map import separated
from courses.mapping.supplies import SUPPLY_COLUMNS
from courses.models import MapGuide
from courses.selectors.brief_sheet import BriefSheet, brief_sheet
from courses.selectors.briefs import newest_version
from tests.courses.mapping.maps import CLOSED, lash_maps, texture
from tests.factories.courses import make_brief

SAMPLING = ("5 fans in each of the 4 zones of each eye, 40 in all.",)
# ISO 216 in mm; a point is 1/72 inch of 25.4 mm.
SIZES = {"a4": (210, 297), "a5": (148, 210)}
LONG_NAMES = (
    "Nguyễn Thị Hồng Phượng: bộ mi nối dành cho buổi thực hành thứ hai của lớp tối",
    "Очень длинное название задания для второго вечернего занятия весенней группы",
    "두 번째 저녁 수업을 위한 아주 긴 과제 이름",
)
PEAKS = texture(
    (8, 70),
    (11, 20),
    (13, 10),
    placement=("Peaks first, evenly apart.", "Then the fillers."),
    natural_length_mm=9,
)


def sheet_of(cast, **changes) -> BriefSheet:
    version = newest_version(make_brief(cast.academy, cast.ines, **changes).brief)
    return brief_sheet(version, MapGuide.usual(cast.academy))


def text_of(file: bytes) -> str:
    """Words of the pages; line breaks become spaces."""
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(file)).pages)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_student_can_work_from_it_without_a_screen(cast, paper):
    key = "past_natural both/inner/top"
    sheet = sheet_of(
        cast,
        name="Peaks",
        style="textured",
        lash_map=PEAKS,
        silenced={key: "Heads only."},
        notes="Look twice.",
    )
    text = text_of(set_brief(sheet, sampling=SAMPLING, paper=paper))
    for words in (
        "Marram Lane Lash School, Saltby",
        "12 January 2026, by Ines Carvalho",
        "closed fan, 3 × 0.07 mm, curl D",
        "80 fans an eye, 160 in all",
        "Peaks first, evenly apart.",
        "Look twice.",
        "300 min × 60 ÷ 160 fans = 112.5 s a fan",
        "5 fans in each of the 4 zones",
        "4 mm past the natural lash of 9 mm",
        "Note: Heads only.",
        "15² ÷ 7² = 225 ÷ 49, whole part 4",
        "Real filaments taper",
        "Adhesive: 15 drops.",
        "A training certificate is not a licence.",
    ):
        assert words in text
    assert "safe" not in text.lower()


def test_every_length_of_a_mix_has_its_share_and_its_fans(cast):
    """80 fans over 4 zones are 20 a zone: 70, 20 and 10 % of them are 14, 4 and 2."""
    text = text_of(set_brief(sheet_of(cast, lash_map=PEAKS), sampling=()))
    for line in ("8 mm 70 % 14", "11 mm 20 % 4", "13 mm 10 % 2"):
        assert text.count(line) == 4


@given(lash_map=lash_maps())
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_text_of_any_map_names_every_length_and_share(cast, lash_map):
    version = make_brief(cast.academy, cast.ines, name=f"Map {hash(str(lash_map))}", lash_map=lash_map)
    sheet = brief_sheet(newest_version(version.brief), MapGuide.usual(cast.academy))
    text = text_of(set_brief(sheet, sampling=(), paper="a5"))
    for planned in lash_map.cells.values():
        for part in planned.lengths:
            assert f"{part.length_mm} mm {part.share} %" in text


def test_eyes_that_differ_have_a_table_each(cast):
    data = set_brief_data(sheet_of(cast, lash_map=separated(PEAKS)), sampling=(), paper="a4")
    assert [table["eye"] for table in data["tables"]] == ["Left eye", "Right eye"]


def test_a_map_of_many_fans_names_the_fan_of_each_zone(cast):
    other = texture((9, 100), fan=CLOSED)
    cells = {**PEAKS.cells, ("both", "outer", "top"): other.cells["both", "outer", "top"]}
    spike = cells["both", "inner", "top"]
    mixed = type(PEAKS)(
        PEAKS.zones, PEAKS.layers, "mirror", {**cells, ("both", "inner", "top"): _spike(spike)}
    )
    text = text_of(set_brief(sheet_of(cast, lash_map=mixed), sampling=()))
    assert "spike, 3 × 0.07 mm, curl D" in text and "closed fan, 3 × 0.07 mm, curl D" in text


def _spike(planned):
    fan = type(planned.fan)("spike", planned.fan.filaments, planned.fan.diameter_hundredths, planned.fan.curl)
    return type(planned)(planned.lengths, fan)


@pytest.mark.parametrize("paper", PAPERS)
def test_both_eyes_are_figures_with_words_and_the_file_has_a_language_and_a_title(cast, paper):
    """ISO 14289-1 (PDF/UA-1): tagged, a language, a title that is shown, alternative text for figures."""
    file = set_brief(sheet_of(cast), sampling=SAMPLING, paper=paper)
    with pikepdf.open(BytesIO(file)) as document:
        root = document.Root
        assert bool(root.MarkInfo.Marked) and bool(root.ViewerPreferences.DisplayDocTitle)
        assert str(root.Lang).startswith("en")
        with document.open_metadata() as metadata:
            assert metadata["pdfuaid:part"] == "1"
            assert metadata["dc:title"] == "Soft volume, version 1"
        spoken = list(_alternatives(root.StructTreeRoot.K))
        for page in document.pages:
            edges = [float(edge) * 25.4 / 72 for edge in page.MediaBox]
            assert edges == pytest.approx([0, 0, *SIZES[paper]], abs=0.01)
    assert [words.split(" eye")[0] for words in spoken] == ["Right", "Left"]
    assert "Top layer: inner 9 mm, inner-mid 10 mm, outer-mid 11 mm, outer 10 mm" in spoken[0]


def _alternatives(node):
    """Alt of every figure, in reading order."""
    if isinstance(node, pikepdf.Array):
        for child in node:
            yield from _alternatives(child)
    elif isinstance(node, pikepdf.Dictionary) and Name.S in node:
        if Name.Figure == node.S:
            yield str(node.Alt)
        if Name.K in node:
            yield from _alternatives(node.K)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", LONG_NAMES)
def test_long_names_in_any_script_are_whole(cast, name, paper):
    file = set_brief(sheet_of(cast, name=name, lash_map=PEAKS), sampling=SAMPLING, paper=paper)
    assert name in text_of(file)


@pytest.mark.parametrize("paper", PAPERS)
def test_two_independent_checkers_find_nothing_wrong(cast, tmp_path, paper):
    """ISO 14289-1 as far as a program can check it, by two checkers that share no code with the writer."""
    file = tmp_path / "brief.pdf"
    sheet = sheet_of(cast, name="Peaks", lash_map=separated(PEAKS), difficulty="beginner")
    file.write_bytes(set_brief(sheet, sampling=SAMPLING, paper=paper))
    for checker in (("outloud", "-q"), ("pdfua", "check", "--min-severity", "error")):
        ran = subprocess.run(
            [Path(sys.executable).with_name(checker[0]), *checker[1:], file], capture_output=True, text=True
        )
        assert ran.returncode == 0, ran.stdout + ran.stderr


def test_the_same_version_gives_the_same_bytes(cast):
    sheet = sheet_of(cast)
    again = brief_sheet(newest_version(sheet.version.brief), MapGuide.usual(cast.academy))
    assert set_brief(sheet, sampling=SAMPLING) == set_brief(again, sampling=SAMPLING)


def test_a_later_stage_prints_its_own_times(cast):
    version = newest_version(make_brief(cast.academy, cast.ines).brief)
    later = brief_sheet(version, MapGuide.usual(cast.academy), nth_set=9)
    assert "For the 180 min from set 9 on." in text_of(set_brief(later, sampling=()))


def test_the_file_name_says_brief_version_and_paper(cast):
    assert set_brief_name(sheet_of(cast), "a5") == "Set brief Soft volume, version 1, A5.pdf"


def test_every_supply_column_is_described_in_its_order():
    assert tuple(column.name for column in SUPPLY_SCHEMA) == SUPPLY_COLUMNS
