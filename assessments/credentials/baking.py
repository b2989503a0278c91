"""A badge picture that carries its certificate: one uncompressed iTXt chunk (Open Badges 3.0, baking).

Chunks as in W3C Portable Network Graphics, third edition, section 5; iTXt in section 11.3.3.4.
"""

import struct
import zlib
from collections.abc import Iterator
from typing import NamedTuple

KEYWORD = b"openbadgecredential"
LARGEST_PICTURE = 4_194_304  # bytes
SIGNATURE = b"\x89PNG\r\n\x1a\n"
_MOST_CHUNKS = 4_096
_NOT_COMPRESSED = b"\0\0"  # flag and method
_NO_LANGUAGE_NO_TRANSLATION = b"\0\0"
_BEFORE_TEXT = KEYWORD + b"\0" + _NOT_COMPRESSED + _NO_LANGUAGE_NO_TRANSLATION
_LENGTH_AND_KIND = struct.Struct(">I4s")


class PictureRefused(ValueError):
    """Not a whole PNG picture; the text says what is wrong and what to do."""


class _Chunk(NamedTuple):
    kind: bytes
    data: bytes
    written: bytes


def bake(png: bytes, token: str) -> bytes:
    """The picture with the token in it, right after its header; a token baked before is replaced."""
    header, *others = _chunks(png)
    kept = [chunk.written for chunk in others if not _is_badge(chunk)]
    text = _written(b"iTXt", _BEFORE_TEXT + token.encode("ascii"))
    return b"".join((SIGNATURE, header.written, text, *kept))


def unbake(png: bytes) -> str | None:
    """The token in a picture, or None when it carries none; PictureRefused for anything but a whole PNG.

    Nothing in it is unpacked. Two tokens are refused: readers could disagree about which one counts.
    """
    badges = [chunk for chunk in _chunks(png) if _is_badge(chunk)]
    if len(badges) > 1:
        raise PictureRefused("This picture carries two certificates. Hand in the one you mean.")
    if not badges:
        return None
    text = badges[0].data.removeprefix(_BEFORE_TEXT)
    if text == badges[0].data or not text.isascii():
        raise PictureRefused("The certificate in this picture cannot be read. Download the picture again.")
    return text.decode("ascii")


def _is_badge(chunk: _Chunk) -> bool:
    return chunk.kind == b"iTXt" and chunk.data.partition(b"\0")[0] == KEYWORD


def _chunks(png: bytes) -> list[_Chunk]:
    if len(png) > LARGEST_PICTURE:
        raise PictureRefused(
            f"This picture is larger than {LARGEST_PICTURE >> 20} MB. Hand in a smaller one."
        )
    if not png.startswith(SIGNATURE):
        raise PictureRefused("This is not a PNG picture. Hand in the badge as it was downloaded.")
    chunks = list(_read_chunks(png))
    if not chunks or chunks[0].kind != b"IHDR" or chunks[-1].kind != b"IEND":
        raise _broken()
    return chunks


def _read_chunks(png: bytes) -> Iterator[_Chunk]:
    """Up to and with IEND; what follows it is not part of the picture and is dropped."""
    start = len(SIGNATURE)
    for _ in range(_MOST_CHUNKS):
        if start + _LENGTH_AND_KIND.size > len(png):
            return
        length, kind = _LENGTH_AND_KIND.unpack_from(png, start)
        end = start + _LENGTH_AND_KIND.size + length + 4
        data = png[start + _LENGTH_AND_KIND.size : end - 4]
        if end > len(png) or png[start:end] != _written(kind, data):
            raise _broken()
        yield _Chunk(kind, data, png[start:end])
        if kind == b"IEND":
            return
        start = end


def _written(kind: bytes, data: bytes) -> bytes:
    check = zlib.crc32(data, zlib.crc32(kind))
    return _LENGTH_AND_KIND.pack(len(data), kind) + data + struct.pack(">I", check)


def _broken() -> PictureRefused:
    return PictureRefused("This picture is damaged. Download it again.")
