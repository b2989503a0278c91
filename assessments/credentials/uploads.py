"""A token out of what somebody hands in: the token itself, a baked picture, or the printed file."""

import re
import zlib
from collections.abc import Iterator

from assessments.credentials.baking import SIGNATURE, PictureRefused, unbake
from assessments.credentials.tokens import LONGEST_TOKEN

LARGEST_UPLOAD = 5_242_880  # bytes
_COMPACT = re.compile(rb"[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+")
_MOST_ATTACHMENTS = 64
_DICTIONARY = 1_000  # bytes in which an attachment's stream must begin


class UploadRefused(ValueError):
    """What was handed in cannot be read; the text says what is wrong and what to do."""


def token_in(upload: bytes) -> str | None:
    """The token in a .jwt, .png or .pdf file, told by its first bytes; None when it carries none.

    Reads a bounded amount whatever the file claims; UploadRefused when it is too large or broken.
    """
    if len(upload) > LARGEST_UPLOAD:
        raise UploadRefused(f"This file is larger than {LARGEST_UPLOAD >> 20} MB. Hand in a smaller one.")
    if upload.startswith(SIGNATURE):
        return _of_picture(upload)
    if upload.startswith(b"%PDF-"):
        return _of_print(upload)
    return _token(upload.strip())


def _of_picture(upload: bytes) -> str | None:
    try:
        return unbake(upload)
    except PictureRefused as refused:
        raise UploadRefused(str(refused)) from refused


def _of_print(upload: bytes) -> str | None:
    tokens = {token for content in _attachments(upload) if (token := _token(content))}
    if len(tokens) > 1:
        raise UploadRefused("This file carries several certificates. Hand in the one you mean.")
    return tokens.pop() if tokens else None


def _attachments(pdf: bytes) -> Iterator[bytes]:
    """What embedded files hold, plain or deflated (ISO 32000-2, 7.11.4), up to the length of a token."""
    at = 0
    for _ in range(_MOST_ATTACHMENTS):
        at = pdf.find(b"/EmbeddedFile", at) + 1
        word = pdf.find(b"stream", at, at + _DICTIONARY)
        if not at:
            return
        if word >= 0:
            content = pdf[word + len(b"stream") : word + LONGEST_TOKEN + _DICTIONARY].lstrip(b"\r\n")
            yield _inflated(content) or content.partition(b"endstream")[0].rstrip()


def _inflated(content: bytes) -> bytes:
    try:
        return zlib.decompressobj().decompress(content, LONGEST_TOKEN + 1)
    except zlib.error:
        return b""


def _token(content: bytes) -> str | None:
    """The text, when it has the form of a compact token and can be one."""
    if len(content) > LONGEST_TOKEN or not _COMPACT.fullmatch(content):
        return None
    return content.decode("ascii")
