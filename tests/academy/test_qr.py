"""A drawn code says what it was given, to a reader that shares no code with its writer."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest
import zxingcpp

from academy.qr import QUIET, qr_svg

ADDRESS = "HTTPS://FANLIGHT.EXAMPLE/V/7K2M9QWX4RTB"


def painted(svg: str, scale: int = 8) -> np.ndarray:
    """The picture's rectangles as pixels, white where it draws nothing."""
    box, path = ElementTree.fromstring(svg), re.compile(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z")
    side = int(box.attrib["viewBox"].split()[2])
    field = np.full((side, side), 255, np.uint8)
    for x, y, width, back in path.findall(box[0].attrib["d"]):
        assert width == back
        field[int(y), int(x) : int(x) + int(width)] = 0
    return field.repeat(scale, 0).repeat(scale, 1)


@pytest.mark.parametrize("text", [ADDRESS, "http://127.0.0.1:8000/v/7K2M9QWX4RTB", "Zażółć 김서연"])
def test_another_library_reads_the_text_back(text: str):
    (found,) = zxingcpp.read_barcodes(painted(qr_svg(text)))
    assert found.text == text
    assert found.format == zxingcpp.BarcodeFormat.QRCode
    assert found.ec_level == "Q"


def test_capitals_make_a_smaller_code():
    """ISO/IEC 18004: version 3 has 29 modules a side, version 4 has 33; 39 capitals fit the former at level Q
    (up to 47 alphanumeric characters), as bytes they do not (up to 32).
    """
    sides = [len(painted(qr_svg(text), 1)) - 2 * QUIET for text in (ADDRESS, ADDRESS.lower())]
    assert sides == [29, 33]


def test_four_modules_are_clear_on_every_side():
    """ISO/IEC 18004, quiet zone of a full-size symbol: 4 modules."""
    field = painted(qr_svg(ADDRESS), 1)
    dark = np.argwhere(field == 0)
    assert dark.min() == 4 and field.shape[0] - 1 - dark.max() == 4


def test_the_same_text_gives_the_same_picture():
    assert qr_svg(ADDRESS) == qr_svg(ADDRESS)
