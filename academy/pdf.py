"""The one door to the PDF library, for printed pages and for pictures drawn as they are."""

import json
from datetime import datetime
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from threading import local
from typing import TYPE_CHECKING, Any, cast

from django.conf import settings

if TYPE_CHECKING:
    import typst

FONT_PACKAGES = ("font_source_sans_pro", "pylopdf_fonts_ko")
POINTS_AN_INCH = 72
_KEPT = local()


@cache
def _fonts() -> "typst.Fonts":
    """The fonts of the font packages, which are found without importing them and read once."""
    import typst

    specs = [find_spec(name) for name in FONT_PACKAGES]
    folders = [Path(spec.origin).parent for spec in specs if spec and spec.origin]
    return typst.Fonts(include_system_fonts=False, font_paths=folders)


def render(template: str, context: dict[str, Any], *, at: datetime) -> bytes:
    """A tagged PDF/UA-1 file from ``templates/documents/<template>``, dated ``at``.

    The document is a function ``pages(data)`` of its file. The same context and instant give the same bytes.
    """
    document = _compiler().compile(
        _calling(template, context),
        root=_folder(),
        pdf_standards=["ua-1"],
        timestamp=int(at.timestamp()),
    )
    return cast(bytes, document)


def picture(template: str, context: dict[str, Any], *, pixels_a_point: float) -> bytes:
    """A PNG of the one page of ``templates/documents/<template>``; the same context gives the same bytes."""
    ppi = pixels_a_point * POINTS_AN_INCH
    drawn = _compiler().compile(_calling(template, context), root=_folder(), format="png", ppi=ppi)
    return cast(bytes, drawn)


def _compiler() -> "typst.Compiler":
    """One for each thread: it serves one call at a time and keeps what it has read."""
    if not hasattr(_KEPT, "compiler"):
        import typst

        _KEPT.compiler = typst.Compiler(root=_folder(), font_paths=_fonts())
    compiler: typst.Compiler = _KEPT.compiler
    return compiler


def _folder() -> Path:
    return settings.BASE_DIR / "templates" / "documents"


def _calling(template: str, context: dict[str, Any]) -> bytes:
    """A source that hands the context to the document as a text.

    Inputs of the compiler would do as well, but a change of them makes it forget all it has worked out for
    the document before, such as drawings that are the same on every copy.
    """
    data = json.dumps(context, ensure_ascii=False, default=str)
    text = json.dumps(data, ensure_ascii=False)  # quotes and backslashes are escaped as the source wants it
    return f'#import "{template}": pages\n#pages(json(bytes({text})))'.encode()
