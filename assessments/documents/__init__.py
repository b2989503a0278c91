"""Printed pages: records into plain data for the PDF door."""

from assessments.documents.certificates import (
    badge_png,
    certificate_name,
    certificate_pdf,
    certificates_pdf,
    certificates_zip,
)
from assessments.documents.mark_sheets import NotSigned, mark_sheet, mark_sheet_data, mark_sheet_name

__all__ = [
    "NotSigned",
    "badge_png",
    "certificate_name",
    "certificate_pdf",
    "certificates_pdf",
    "certificates_zip",
    "mark_sheet",
    "mark_sheet_data",
    "mark_sheet_name",
]
