"""Baked badges before programs that know pictures and nothing of us."""

import pytest

from assessments.credentials.achievement import credential
from assessments.credentials.baking import bake, unbake
from assessments.credentials.tokens import sign
from tests.factories.credentials import facts, key, kid, picture
from tests.outside.tools import said_by

pytestmark = pytest.mark.outside


@pytest.fixture
def token() -> str:
    return sign(credential(facts()), key(), kid())


@pytest.fixture
def baked(tmp_path, token):
    path = tmp_path / "badge.png"
    path.write_bytes(bake(picture(), token))
    return path


def test_pngcheck_finds_no_fault_and_one_international_text(baked):
    """Its own words for a chunk that is not compressed and keeps to the specification."""
    told = said_by("pngcheck", "-v", baked).decode()
    assert "No errors detected" in told
    assert told.count("chunk iTXt") == 1
    assert "keyword: openbadgecredential" in told


def test_exiftool_takes_out_the_same_token(baked, token):
    assert said_by("exiftool", "-b", "-Openbadgecredential", baked).decode() == token


def test_a_token_that_exiftool_put_in_is_read_here(tmp_path, baked, token):
    """The other way round: what another program writes into the picture, next to a text of its own."""
    other = tmp_path / "other.png"
    said_by("exiftool", "-q", "-Comment=from a chat", "-o", other, baked)
    assert unbake(other.read_bytes()) == token


def test_pngcheck_finds_fault_with_a_changed_byte(baked):
    spoilt = bytearray(baked.read_bytes())
    spoilt[80] ^= 1
    baked.write_bytes(spoilt)
    with pytest.raises(pytest.fail.Exception, match="CRC error"):
        said_by("pngcheck", baked)
