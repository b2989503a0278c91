"""The two CSV forms beside RFC 4180 and Python's own reader of CSV."""

import csv
import io
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from academy.csv_forms import CONTENT_TYPE, data_lines, spreadsheet_lines

HEADER = ("name", "value")


def data(*rows):
    return "".join(data_lines(HEADER, rows))


def spreadsheet(*rows):
    return "".join(spreadsheet_lines(HEADER, rows))


def test_every_field_is_quoted_quotes_are_doubled_and_lines_end_with_crlf():
    # RFC 4180, section 2, rules 1, 2, 5, 6 and 7.
    assert data(('b "bb"', "c,c"), ("two\r\nlines", "")) == (
        '"name","value"\r\n"b ""bb""","c,c"\r\n"two\r\nlines",""\r\n'
    )


def test_the_media_type_says_utf_8_and_that_there_is_a_header():
    # RFC 4180, section 3: the parameters charset and header.
    assert CONTENT_TYPE == "text/csv; charset=utf-8; header=present"


@settings(max_examples=60)
@given(st.lists(st.tuples(st.text(), st.text()), max_size=5))
def test_pythons_csv_reader_reads_the_data_form_back_unchanged(rows):
    text = data(*rows)
    read = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert read == [list(HEADER), *map(list, rows)]


@settings(max_examples=60)
@given(st.text())
def test_no_text_opens_as_a_formula_in_the_form_for_spreadsheets(text):
    written = list(csv.reader(io.StringIO(spreadsheet((text, "")), newline="")))[1][0]
    assert written in (text, f"'{text}")
    assert not written.startswith(tuple("=+-@\t\r\n＝＋－＠"))


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠"])
def test_text_that_looks_like_a_formula_is_disarmed_for_spreadsheets_only(start):
    # The starts and the prefix as recommended against CSV injection (OWASP Foundation).
    assert f'"\'{start}1"' in spreadsheet((f"{start}1", 2))
    assert f'"{start}1"' in data((f"{start}1", 2))


def test_true_numbers_are_never_disarmed():
    assert spreadsheet((-5, Decimal("-1.5"))).endswith('"-5","-1.5"\r\n')


def test_the_header_is_disarmed_too():
    assert "".join(spreadsheet_lines(["=A1"], [])) == '\ufeff"\'=A1"\r\n'


def test_only_the_form_for_spreadsheets_begins_with_a_byte_order_mark():
    assert spreadsheet().encode()[:3] == b"\xef\xbb\xbf"  # the UTF-8 signature, Unicode Standard 23.8
    assert data().encode()[:1] == b'"'


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (None, ""),
        (True, "true"),
        (7, "7"),
        (0.0000001, "0.0000001"),
        (1e21, "1000000000000000000000"),
        (Decimal("1E+2"), "100"),
        (Decimal("2.50"), "2.50"),
        (date(2026, 1, 12), "2026-01-12"),
        (datetime(2026, 1, 12, 9, tzinfo=UTC), "2026-01-12T09:00:00+00:00"),
        (datetime(2026, 1, 12, 9, tzinfo=timezone(timedelta(hours=2))), "2026-01-12T09:00:00+02:00"),
    ],
)
def test_numbers_have_a_dot_and_no_exponent_and_times_are_iso_8601(value, written):
    assert data(("x", value)).endswith(f'"x","{written}"\r\n')


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        (("only one",), "Row 1 has 1 fields, the header 2."),
        (("x", float("nan")), "not a number"),
        (("x", Decimal("Infinity")), "not a number"),
        (("x", datetime(2026, 1, 12, 9)), "no time zone"),  # noqa: DTZ001
    ],
)
def test_what_cannot_be_written_is_said(row, sentence):
    with pytest.raises(ValueError, match=sentence):
        data(row)


def test_lines_are_made_one_by_one():
    def endless():
        while True:
            yield ("a", 1)

    lines = data_lines(HEADER, endless())
    assert [next(lines) for _ in range(3)] == ['"name","value"\r\n', '"a","1"\r\n', '"a","1"\r\n']
