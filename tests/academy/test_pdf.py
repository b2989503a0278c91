"""Printed pages are tagged, embed their fonts and come out the same every time."""

import struct
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from io import BytesIO

import pikepdf
import pytest
from pikepdf import Name
from pypdf import PdfReader

from academy import pdf

AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
NAMES = ("Nguyễn Thị Hồng Phượng", "Александра Белозёрская", "김서연", "José Núñez", "Łucja Żółć")
PAGE = """#import "house.typ": *
#let pages(data) = [
#show: sheet.with(title: data.title, author: "Test", running: data.title)
= #data.title
#ruled((1fr, auto), ("Name", "Level"), data.rows)
]
"""


@pytest.fixture
def page(settings, tmp_path):
    """A folder of documents with the house style and one small page in it."""
    house = settings.BASE_DIR / "templates" / "documents" / "house.typ"
    folder = tmp_path / "templates" / "documents"
    folder.mkdir(parents=True)
    (folder / "house.typ").write_text(house.read_text())
    (folder / "page.typ").write_text(PAGE)
    settings.BASE_DIR = tmp_path
    return "page.typ"


def made(page: str, title: str = "Marks", at: datetime = AT) -> bytes:
    return pdf.render(page, {"title": title, "rows": [(name, "3") for name in NAMES]}, at=at)


def test_the_file_says_that_it_is_pdf_ua_1(page: str):
    """ISO 14289-1: marked content, a language, a title that is shown, and the identifier part 1."""
    with pikepdf.open(BytesIO(made(page))) as document:
        root = document.Root
        assert bool(root.MarkInfo.Marked)
        assert str(root.Lang).startswith("en")
        assert bool(root.ViewerPreferences.DisplayDocTitle)
        with document.open_metadata() as metadata:
            assert metadata["pdfuaid:part"] == "1"
            assert metadata["dc:title"] == "Marks"


def test_headings_and_table_heads_are_tagged(page: str):
    tags = tags_of(made(page))
    assert tags.count("H1") == 1
    assert tags.count("TH") == 2
    assert tags.count("TD") == 2 * len(NAMES)


def test_every_font_is_embedded_with_its_text(page: str):
    with pikepdf.open(BytesIO(made(page))) as document:
        fonts = [font for sheet in document.pages for font in sheet.Resources.Font.values()]
        assert fonts
        for font in fonts:
            descriptor = font.DescendantFonts[0].FontDescriptor
            assert Name.FontFile2 in descriptor or Name.FontFile3 in descriptor
            assert Name.ToUnicode in font


def test_names_in_any_of_our_scripts_can_be_read_back(page: str):
    text = "".join(sheet.extract_text() for sheet in PdfReader(BytesIO(made(page))).pages)
    assert [name for name in NAMES if name not in text] == []


def test_words_are_printed_as_they_are_whatever_signs_they_hold(page: str):
    title = 'Slash \\ quote " hash # dollar $ #panic() \\u{41} \\n [x] *y* <z> @a'
    text = "".join(sheet.extract_text() for sheet in PdfReader(BytesIO(made(page, title))).pages)
    assert text.count(title) >= 1


def test_a_picture_is_the_page_as_png(page: str, settings):
    """W3C Portable Network Graphics, section 11.2.1: width and height stand first in the header."""
    (settings.BASE_DIR / "templates" / "documents" / page).write_text(
        "#let pages(data) = [#set page(width: 40pt, height: 30pt)\n#data.title]"
    )
    drawn = pdf.picture(page, {"title": "A"}, pixels_a_point=2)
    assert drawn.startswith(b"\x89PNG\r\n\x1a\n")
    assert struct.unpack(">II", drawn[16:24]) == (80, 60)
    assert drawn == pdf.picture(page, {"title": "A"}, pixels_a_point=2)


def test_a_changed_document_is_printed_as_it_is_now(page: str, settings):
    made(page)
    file = settings.BASE_DIR / "templates" / "documents" / page
    file.write_text(PAGE.replace('"Level"', '"Rung"'))
    assert "Rung" in PdfReader(BytesIO(made(page))).pages[0].extract_text()


def test_threads_can_print_at_the_same_time(page: str):
    with ThreadPoolExecutor(4) as threads:
        files = list(threads.map(lambda title: made(page, title), ["One", "Two", "Three", "Four"] * 3))
    assert files[:4] == files[4:8] == files[8:] and len(set(files)) == 4


def test_the_same_content_gives_the_same_bytes_and_another_instant_does_not(page: str):
    assert made(page) == made(page)
    assert made(page) != made(page, at=AT.replace(hour=10))


def test_the_file_is_dated_as_asked(page: str):
    described = PdfReader(BytesIO(made(page))).metadata
    assert described is not None and described.creation_date == AT


def tags_of(file: bytes) -> list[str]:
    """Structure types from the root down."""
    with pikepdf.open(BytesIO(file)) as document:
        found: list[str] = []
        walk(document.Root.StructTreeRoot.K, found)
    return found


def walk(node: pikepdf.Object, found: list[str]) -> None:
    if isinstance(node, pikepdf.Array):
        for child in node:
            walk(child, found)
    elif isinstance(node, pikepdf.Dictionary) and Name.S in node:
        found.append(str(node.S).lstrip("/"))
        if Name.K in node:
            walk(node.K, found)
