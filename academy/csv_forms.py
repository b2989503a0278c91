"""Tables as CSV in two forms: "for spreadsheets" to be opened by a person, "data" to be read by a program.

Both follow RFC 4180: CRLF, one header row, every field quoted, quotes doubled; decimals have a dot, days and
instants are ISO 8601. Serve them as `CONTENT_TYPE`, encoded as UTF-8. Lines are made one by one, so that a
long export need not fit into memory; ``"".join(...)`` gives the text.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

CONTENT_TYPE = "text/csv; charset=utf-8; header=present"
METADATA_TYPE = "application/csvm+json"
BYTE_ORDER_MARK = "\ufeff"
# What a spreadsheet may take for a formula, with the full-width forms some read as their narrow ones.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

Value = str | int | float | Decimal | date | None


def spreadsheet_lines(header: Sequence[str], rows: Iterable[Sequence[Value]]) -> Iterator[str]:
    """The form for spreadsheets: a byte order mark, and text that looks like a formula disarmed by ``'``.

    The prefix changes what is written, never a true number. Raises ValueError as `data_lines` does.
    """
    yield BYTE_ORDER_MARK
    yield from _lines(header, rows, disarm=True)


def data_lines(header: Sequence[str], rows: Iterable[Sequence[Value]]) -> Iterator[str]:
    """The data form: every value as it is.

    Raises ValueError for a row of another length than the header, for a number that is none and for an
    instant without its zone.
    """
    return _lines(header, rows, disarm=False)


@dataclass(frozen=True, slots=True)
class Column:
    """What a column of a data form holds; ``datatype`` as in XML Schema, such as string, integer, decimal."""

    name: str
    datatype: str
    holds: str
    may_be_empty: bool = False


def metadata(file: str, title: str, columns: Sequence[Column]) -> dict[str, Any]:
    """What CSV on the Web (W3C, 2015) says of a data form; kept beside it as ``<file>-metadata.json``."""
    return {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "url": file,
        "dc:title": title,
        "dialect": {"header": True, "encoding": "utf-8", "lineTerminators": ["\r\n"]},
        "tableSchema": {
            "columns": [
                {
                    "name": column.name,
                    "titles": column.name,
                    "dc:description": column.holds,
                    "datatype": column.datatype,
                    "required": not column.may_be_empty,
                }
                for column in columns
            ]
        },
    }


def _lines(header: Sequence[str], rows: Iterable[Sequence[Value]], *, disarm: bool) -> Iterator[str]:
    yield _line(header, disarm=disarm)
    for number, row in enumerate(rows, 1):
        if len(row) != len(header):
            raise ValueError(f"Row {number} has {len(row)} fields, the header {len(header)}.")
        yield _line(row, disarm=disarm)


def _line(row: Sequence[Value], *, disarm: bool) -> str:
    return ",".join(_field(value, disarm=disarm) for value in row) + "\r\n"


def _field(value: Value, *, disarm: bool) -> str:
    text = value if isinstance(value, str) else _written(value)
    if disarm and isinstance(value, str) and value.startswith(FORMULA_STARTS):
        text = f"'{value}"
    return '"' + text.replace('"', '""') + '"'


def _written(value: int | float | Decimal | date | None) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "true" if value else "false"
        case float() | Decimal():
            return _decimal(value)
        case datetime() if value.tzinfo is None:
            raise ValueError(f"The instant {value} has no time zone. Give it one.")
        case date():
            return value.isoformat()
    return str(value)


def _decimal(value: float | Decimal) -> str:
    exact = Decimal(repr(value)) if isinstance(value, float) else value
    if not exact.is_finite():
        raise ValueError(f"{value} is not a number that can be written down.")
    return f"{exact:f}"
