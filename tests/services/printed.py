"""Printed files as a scanner and a checker see them: pixels, codes, words, conformance."""

import shutil
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pymupdf
import pytest
import zxingcpp

SCAN_DPI = 200
CHECKERS = (("outloud", "-q"), ("pdfua", "check", "--min-severity", "error"))


def scanned(file: bytes, page: int = 0, dpi: int = SCAN_DPI) -> np.ndarray:
    """One page in grey, as a good scanner delivers it."""
    with pymupdf.open(stream=file, filetype="pdf") as document:
        pixels = document[page].get_pixmap(dpi=dpi, colorspace=pymupdf.csGRAY)
        return np.frombuffer(pixels.samples, np.uint8).reshape(pixels.height, pixels.stride)[
            :, : pixels.width
        ]


def words_of(file: bytes) -> list[str]:
    """The text of each page; line breaks become spaces."""
    with pymupdf.open(stream=file, filetype="pdf") as document:
        return [" ".join(page.get_text().split()) for page in document]


def read_by_zbar(picture: np.ndarray, folder: Path) -> list[str]:
    if not shutil.which("zbarimg"):
        pytest.fail("No zbarimg to read printed codes with: run `apt-get install zbar-tools`.")
    file = folder / "scan.png"
    cv2.imwrite(str(file), picture)
    ran = subprocess.run(["zbarimg", "-q", "--raw", file], capture_output=True, text=True)
    return ran.stdout.splitlines()


def read_by_opencv(picture: np.ndarray) -> list[str]:
    text, _, _ = cv2.QRCodeDetector().detectAndDecode(picture)
    return [text] if text else []


def read_by_zxing(picture: np.ndarray) -> list[zxingcpp.Barcode]:
    return zxingcpp.read_barcodes(picture)


def complaints(file: Path) -> list[str]:
    """What three checkers find: two against ISO 14289-1 (PDF/UA-1), one against the form of the file."""
    if not shutil.which("qpdf"):
        pytest.fail("No qpdf to check printed files with: run `apt-get install qpdf`.")
    here = Path(sys.executable)
    commands = [[str(here.with_name(name)), *options, str(file)] for name, *options in CHECKERS]
    commands.append(["qpdf", "--check", str(file)])
    ran = [subprocess.run(command, capture_output=True, text=True) for command in commands]
    return [each.stdout + each.stderr for each in ran if each.returncode]
