"""A token is found in the three files that are handed out, and in files that others wrote or spoilt."""

import io
import zlib

import pikepdf
import pypdf
import pytest
import typst
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.credentials.baking import bake
from assessments.credentials.tokens import LONGEST_TOKEN
from assessments.credentials.uploads import LARGEST_UPLOAD, UploadRefused, token_in
from tests.factories.credentials import picture

TOKEN = "eyJhbGciOiJSUzI1NiJ9." + "eyJpZCI6IngifQ" * 400 + ".c2lnbmF0dXJl"


def typst_print(*tokens: str) -> bytes:
    attached = "\n".join(
        f'#pdf.attach("certificate-{number}.jwt", bytes("{token}"), description: "The signed certificate")'
        for number, token in enumerate(tokens)
    )
    source = f'#set document(title: "A certificate")\n= A certificate\n{attached}'
    return typst.compile(source.encode(), pdf_standards=["ua-1"])


def pypdf_print(token: str) -> bytes:
    writer, out = pypdf.PdfWriter(), io.BytesIO()
    writer.add_blank_page(100, 100)
    writer.add_attachment("certificate.jwt", token.encode())
    writer.write(out)
    return out.getvalue()


def pikepdf_print(token: str, **options) -> bytes:
    out = io.BytesIO()
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        pdf.attachments["certificate.jwt"] = pikepdf.AttachedFileSpec(pdf, token.encode())
        pdf.save(out, **options)
    return out.getvalue()


def test_a_token_is_found_in_its_own_file():
    assert token_in(TOKEN.encode()) == token_in(f"\n{TOKEN}\r\n".encode()) == TOKEN


def test_a_token_is_found_in_a_baked_picture():
    assert token_in(bake(picture(), TOKEN)) == TOKEN


@pytest.mark.parametrize(
    "printed",
    [
        typst_print(TOKEN),
        typst_print("eyJh.eyJi.c2ln"),
        pypdf_print(TOKEN),
        pikepdf_print(TOKEN),
        pikepdf_print(TOKEN, object_stream_mode=pikepdf.ObjectStreamMode.generate),
        pikepdf_print(TOKEN, compress_streams=False),
        pikepdf_print(TOKEN, linearize=True),
    ],
    ids=["typst", "typst-small", "pypdf", "pikepdf", "object-streams", "plain", "linearized"],
)
def test_a_token_is_found_in_a_printed_file_whoever_wrote_it(printed):
    assert token_in(printed) in {TOKEN, "eyJh.eyJi.c2ln"}


def test_a_printed_file_saved_by_another_program_still_carries_it():
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(typst_print(TOKEN))) as pdf:
        pdf.save(out, object_stream_mode=pikepdf.ObjectStreamMode.generate, recompress_flate=True)
    assert token_in(out.getvalue()) == TOKEN


def test_the_same_token_twice_is_one_and_two_are_refused():
    assert token_in(typst_print(TOKEN, TOKEN)) == TOKEN
    with pytest.raises(UploadRefused, match="several certificates"):
        token_in(typst_print(TOKEN, "other" + TOKEN))


@pytest.mark.parametrize(
    "empty",
    [b"", b"hello", b"a.b", typst_print(), pypdf_print("just a note"), picture(), b"%PDF-1.7", b"PK\x03\x04"],
)
def test_a_file_without_a_token_carries_none(empty):
    assert token_in(empty) is None


def test_a_broken_picture_is_refused_in_words():
    with pytest.raises(UploadRefused, match="damaged"):
        token_in(picture()[:-3])


def test_a_file_that_is_too_large_is_refused_before_it_is_read():
    with pytest.raises(UploadRefused, match="larger than 5 MB"):
        token_in(b"%PDF-1.7" + bytes(LARGEST_UPLOAD))


def test_an_attachment_that_unpacks_to_gigabytes_is_not_unpacked():
    pdf = b"%PDF-1.7\n1 0 obj<</Type/EmbeddedFile/Filter/FlateDecode>>stream\n"
    bomb = zlib.compress(b"a" * 50_000_000)
    assert token_in(pdf + bomb + b"\nendstream") is None


def test_thousands_of_attachments_are_not_all_opened():
    """The token stands behind more of them than anybody attaches."""
    many = b"/EmbeddedFile>>stream\nx\nendstream\n" * 100
    last = b"/EmbeddedFile>>stream\n" + TOKEN.encode() + b"\nendstream\n"
    assert token_in(b"%PDF-1.7\n" + last) == TOKEN
    assert token_in(b"%PDF-1.7\n" + many + last) is None


def test_a_text_that_is_too_long_for_a_token_is_none():
    assert token_in(b"a" * LONGEST_TOKEN + b".b.c") is None


@settings(deadline=None)
@given(st.binary(max_size=500), st.sampled_from([b"", b"%PDF-1.7", b"%PDF-/EmbeddedFile stream\n"]))
def test_any_bytes_are_answered_or_refused(noise, start):
    token_in(start + noise)
