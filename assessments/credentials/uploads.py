"""A token out of what somebody hands in: the token itself, a baked picture, or the printed file."""

LARGEST_UPLOAD = 5_242_880  # bytes


class UploadRefused(ValueError):
    """What was handed in cannot be read; the text says what is wrong and what to do."""


def token_in(upload: bytes) -> str | None:
    """The token in a .jwt, .png or .pdf file, told by its first bytes; None when it carries none.

    Reads a bounded amount whatever the file claims; UploadRefused when it is too large or broken.
    """
    raise NotImplementedError
