"""A badge picture that carries its certificate: one uncompressed iTXt chunk (Open Badges 3.0, baking)."""

KEYWORD = "openbadgecredential"
LARGEST_PICTURE = 4_194_304  # bytes


class PictureRefused(ValueError):
    """Not a PNG that can be read; the text says what is wrong and what to do."""


def bake(png: bytes, token: str) -> bytes:
    """The picture with the token in it; a token baked before is replaced."""
    raise NotImplementedError


def unbake(png: bytes) -> str | None:
    """The token in a picture, or None when it carries none; PictureRefused for anything but a whole PNG."""
    raise NotImplementedError
