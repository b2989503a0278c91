"""A printed certificate says what was frozen, can be read by cameras and screen readers, and never varies."""

import hashlib
import os
import struct
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from typing import Any

import pikepdf
import pymupdf
import pytest
from django.urls import resolve
from pikepdf import Name

from assessments.credentials.baking import bake, unbake
from assessments.credentials.uploads import token_in
from assessments.documents import badge_png, certificate_name, certificate_pdf, certificates_pdf
from assessments.scoring.certified import CertifiedCondition, CertifiedSkill
from tests.factories.printed_certificates import (
    AWARDED,
    CODE,
    CONDITIONS,
    SKILLS,
    certified,
    printed_certificate,
)
from tests.services.printed import (
    complaints,
    read_by_opencv,
    read_by_zbar,
    read_by_zxing,
    scanned,
    words_of,
)

# Invented: Vietnamese, Polish, Spanish, Cyrillic, Korean; then 3 letters, 60 letters, 60 without a break.
NAMES = (
    "Nguyễn Thị Hồng Phượng",
    "Łucja Żółć-Gęślikowska",
    "José Ángel Núñez Güemes",
    "Александра Константиновна Белозёрская-Оболенская",
    "김서연",
    "남궁민수",
    "Ngô",
    "Wolfeschlegelsteinhausenbergerdorff the Elder of Longest-Nam",
    "W" * 60,
)
MM = 25.4 / 72
ADDRESS = f"HTTPS://FANLIGHT.EXAMPLE/V/{CODE}"
WITHIN_MM = 27.0  # the corner fans and the woven lines end before this distance from the edge


@pytest.fixture(autouse=True)
def _at_the_school(settings):
    settings.SITE_URL = "https://fanlight.example"


@pytest.mark.parametrize("name", NAMES)
def test_a_name_in_any_of_our_scripts_is_whole_and_inside_the_border(name: str):
    file = certificate_pdf(printed_certificate(name))
    assert name in words_of(file)[0]
    with pymupdf.open(stream=file) as document:
        assert len(document) == 2
        lines = [span for span in _spans(document[0]) if span["size"] > 10 and span["text"].strip() in name]
        edges = [box for span in lines for box in (span["bbox"][0], document[0].rect.x1 - span["bbox"][2])]
        assert edges and min(edges) * MM > WITHIN_MM


def test_the_name_is_the_largest_of_all_words():
    with pymupdf.open(stream=certificate_pdf(printed_certificate())) as document:
        sizes = {span["text"]: span["size"] for span in _spans(document[0])}
    assert max(sizes, key=sizes.__getitem__) == "Ada Marsh"


def test_both_pages_are_a4_landscape():
    """ISO 216: A4 is 210 x 297 mm."""
    with pikepdf.open(BytesIO(certificate_pdf(printed_certificate()))) as document:
        sizes = [[float(edge) * MM for edge in page.MediaBox] for page in document.pages]
    assert sizes == [pytest.approx([0, 0, 297, 210], abs=0.01)] * 2


def test_the_front_says_who_what_when_and_how_to_check_it():
    front, _ = words_of(certificate_pdf(printed_certificate()))
    for words in (
        "Marram Lane Lash School Marram",
        "Certificate of training",
        "Classic and volume lashes, foundation",
        "on live models under supervision",
        "THEORY 24 h",
        "PRACTICE 62 h 30 min",
        "GRADED SETS 14",
        "FROM 2 February 2026",
        "TO 9 August 2026",
        "Ines Carvalho",
        "Issued 12 August 2026, valid until 12 August 2028",
        "Certificate 41",
        "Code 7K2M-9QWX-4RTB",
        f"fanlight.example/v/{CODE}",
        "A training certificate, not a licence.",
        "Local law, the product label and the licensed educator decide.",
    ):
        assert words in front


def test_sets_of_one_day_are_told_with_that_day_alone():
    one_day = certified(sets=1, last_set_on=certified().first_set_on)
    front, back = words_of(certificate_pdf(printed_certificate(content=one_day)))
    assert "ON 2 February 2026" in front and "Sets: 2 February 2026 Gate" in back


def test_the_back_says_what_it_rests_on():
    _, back = words_of(certificate_pdf(printed_certificate()))
    for name, is_gate, level, word, low, high, sets in SKILLS:
        gate = " gate" if is_gate else ""
        assert f"{name}{gate} {level:.1f} {word} {low:.1f} to {high:.1f} {sets}" in back
    for name, words in CONDITIONS:
        assert f"{name}: {words}" in back
    for words in (
        "Theory 24 h Practice 62 h 30 min In all 86 h 30 min",
        "Classic and volume lashes, foundation, version 3",
        "Starter rubric, version 1",
        "parameter version 4",
        "Eye pain, swelling or change of vision: stop and seek medical care.",
    ):
        assert words in back


def test_dates_are_those_of_the_school_not_of_greenwich():
    late = AWARDED.replace(hour=23, minute=30)  # 00:30 of the next day in London, where summer time runs
    row = printed_certificate(content=certified(awarded_at=late), valid_from=late, valid_until=None)
    assert "Issued 13 August 2026, without an end date" in words_of(certificate_pdf(row))[0]


def test_one_issued_again_says_when_it_was_awarded_first():
    again = printed_certificate(
        "Ada Reed", content=certified("Ada Reed"), valid_from=AWARDED.replace(month=10)
    )
    front, back = words_of(certificate_pdf(again))
    assert "Awarded 12 August 2026, issued again 12 October 2026, valid until 12 August 2028" in front
    assert "Levels as they stood on 12 August 2026" in back


# --- The code for cameras, read from the page as it comes out of a scanner ---


@pytest.mark.parametrize("name", NAMES[::4])
def test_three_readers_find_the_address_on_the_scanned_page(name: str, tmp_path):
    page = scanned(certificate_pdf(printed_certificate(name)))
    (found,) = read_by_zxing(page)
    assert found.text == ADDRESS and found.ec_level == "Q"
    assert read_by_opencv(page) == [ADDRESS]
    assert read_by_zbar(page, tmp_path) == [ADDRESS]


def test_a_module_is_large_enough_for_print():
    """Common practice, no source: modules of 0.4 mm or more, the code 20 mm or more."""
    page = scanned(certificate_pdf(printed_certificate()))
    (found,) = read_by_zxing(page)
    side_mm = (found.position.top_right.x - found.position.top_left.x) / 200 * 25.4
    assert side_mm >= 20 and side_mm / 29 >= 0.4  # 29 modules: version 3


def test_the_address_in_capitals_leads_to_the_check_page():
    assert resolve(f"/V/{CODE}").url_name == resolve(f"/v/{CODE}").url_name == "check-code"


def test_a_site_below_a_path_keeps_its_letters(settings):
    settings.SITE_URL = "https://school.example/Fanlight"
    (found,) = read_by_zxing(scanned(certificate_pdf(printed_certificate())))
    assert found.text == f"https://school.example/Fanlight/v/{CODE}"


# --- Conformance ---


def test_it_is_tagged_with_names_as_headings_tables_and_a_described_code():
    with pikepdf.open(BytesIO(certificate_pdf(printed_certificate()))) as document:
        root = document.Root
        assert bool(root.MarkInfo.Marked) and bool(root.ViewerPreferences.DisplayDocTitle)
        assert str(root.Lang).startswith("en")
        with document.open_metadata() as metadata:
            assert metadata["pdfuaid:part"] == "1"
            assert metadata["dc:title"] == "Certificate of training, Ada Marsh"
        tags = list(_tags(root.StructTreeRoot.K))
        assert document.check_pdf_syntax() == []
    kinds = [kind for kind, _ in tags]
    assert (kinds.count("H1"), kinds.count("H2"), kinds.count("H3")) == (1, 1, 4)
    assert kinds.count("TH") == 5 + 2
    assert [alt for kind, alt in tags if kind == "Figure"] == [
        f"Code for cameras with the address https://fanlight.example/v/{CODE}"
    ]


@pytest.mark.parametrize("name", NAMES[:5])
def test_two_independent_checkers_find_nothing_wrong(name: str, tmp_path):
    file = tmp_path / "certificate.pdf"
    file.write_bytes(certificate_pdf(printed_certificate(name)))
    assert complaints(file) == []


def test_two_independent_checkers_find_nothing_wrong_with_a_cohort(tmp_path):
    file = tmp_path / "cohort.pdf"
    file.write_bytes(certificates_pdf(_cohort(3), title="Certificates of Spring"))
    assert complaints(file) == []
    with pikepdf.open(file) as document:
        assert document.check_pdf_syntax() == []


# --- What does not vary ---


def test_the_same_certificate_gives_the_same_bytes_whatever_was_printed_before():
    first = certificate_pdf(printed_certificate())
    certificate_pdf(printed_certificate("Somebody Else", number=42))
    assert certificate_pdf(printed_certificate()) == first
    assert certificate_pdf(printed_certificate("Ada Marsch")) != first


def test_another_process_prints_the_same_bytes():
    code = (
        "import django, hashlib; django.setup()\n"
        "from django.conf import settings; settings.SITE_URL = 'https://fanlight.example'\n"
        "from tests.factories.printed_certificates import printed_certificate\n"
        "from assessments.documents import badge_png, certificate_pdf\n"
        "row = printed_certificate()\n"
        "print(hashlib.sha256(certificate_pdf(row) + badge_png(row)).hexdigest())"
    )
    env = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings", "PYTHONHASHSEED": "4711"}
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env, check=True)
    row = printed_certificate()
    assert ran.stdout.strip() == hashlib.sha256(certificate_pdf(row) + badge_png(row)).hexdigest()


# --- More than fits ---


def test_long_words_everywhere_still_make_a_front_and_a_back():
    long = certified(
        "W" * 60,
        school="The Long Established Lash School of Marram and the Whole Coast, with Rooms in Three Towns",
        programme="Classic, volume and textured lash extensions with aftercare and removal " * 2,
        scope="Classic and volume sets on mannequin heads and live models under supervision. " * 9,
        educator="Александра Константиновна Белозёрская-Оболенская фон Маррам",
        skills=tuple(
            CertifiedSkill(f"s{n}", f"Skill {n} " + "of care " * 6, True, 3, "sound", 2, 4, 9)
            for n in range(16)
        ),
    )
    front, *back = words_of(certificate_pdf(printed_certificate("W" * 60, content=long)))
    assert long.educator in front and long.scope.strip() in front and long.programme.strip() in front
    assert len(back) <= 2
    assert all(f"Skill {n} " in " ".join(back) for n in range(16))


def test_more_conditions_than_a_page_holds_run_on():
    many = tuple(
        CertifiedCondition(f"Condition {n}", "Met as the record shows, with evidence. " * 3)
        for n in range(40)
    )
    pages = words_of(certificate_pdf(printed_certificate(content=certified(conditions=many))))
    assert len(pages) > 2
    assert all(f"Condition {n}:" in " ".join(pages) for n in range(40))


# --- The signed form, the cohort, the badge ---


def test_the_check_page_finds_the_signed_form_in_the_file():
    row = printed_certificate()
    assert token_in(certificate_pdf(row)) == row.token
    with pikepdf.open(BytesIO(certificate_pdf(row))) as document:
        assert list(document.attachments) == ["certificate-41.jwt"]


def test_a_cohort_is_one_file_in_the_order_given_with_names_to_jump_to():
    file = certificates_pdf(_cohort(4), title="Certificates of Spring")
    pages = words_of(file)
    assert [f"Holder {n}" in pages[2 * n] for n in range(4)] == [True] * 4 and len(pages) == 8
    with pymupdf.open(stream=file) as document:
        assert [title for level, title, _ in document.get_toc() if level == 1] == [
            f"Holder {n}" for n in range(4)
        ]
        assert document.metadata["title"] == "Certificates of Spring"
        assert document.embfile_count() == 0
    assert file == certificates_pdf(_cohort(4), title="Certificates of Spring")


def test_each_certificate_of_a_cohort_has_its_own_code():
    file = certificates_pdf(_cohort(3), title="Certificates of Spring")
    read = [found.text for n in range(3) for found in read_by_zxing(scanned(file, 2 * n))]
    assert read == [f"{ADDRESS[:-1]}{n}" for n in range(3)]


def test_the_badge_is_a_square_picture_that_carries_the_signed_form():
    """W3C Portable Network Graphics, section 11.2.1: width and height stand first in the header."""
    row = printed_certificate()
    picture = badge_png(row)
    assert struct.unpack(">II", picture[16:24]) == (900, 900)
    assert unbake(bake(picture, row.token)) == row.token


def test_the_badge_does_not_show_who_holds_it():
    assert badge_png(printed_certificate("Ada Marsh")) == badge_png(printed_certificate("Somebody Else"))


def test_the_file_is_named_for_number_and_holder():
    assert certificate_name(printed_certificate()) == "Certificate 41, Ada Marsh.pdf"


def _cohort(count: int):
    return [
        printed_certificate(
            f"Holder {n}", number=50 + n, code=f"{CODE[:-1]}{n}", content=replace(certified(f"Holder {n}"))
        )
        for n in range(count)
    ]


def _spans(page) -> Iterator[dict[str, Any]]:
    for block in page.get_text("dict")["blocks"]:
        for line in block.get("lines", ()):
            yield from line["spans"]


def _tags(node) -> Iterator[tuple[str, str]]:
    """Every structure type with its alternative text, in reading order."""
    if isinstance(node, pikepdf.Array):
        for child in node:
            yield from _tags(child)
    elif isinstance(node, pikepdf.Dictionary) and Name.S in node:
        yield str(node.S).lstrip("/"), str(node.get(Name.Alt, ""))
        if Name.K in node:
            yield from _tags(node.K)
