"""The one door to the PDF library."""

import json
from datetime import datetime
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.conf import settings

if TYPE_CHECKING:
    import typst

FONT_PACKAGES = ("font_source_sans_pro", "pylopdf_fonts_ko")


@cache
def _fonts() -> "typst.Fonts":
    """The fonts of the font packages, which are found without importing them and read once."""
    import typst

    specs = [find_spec(name) for name in FONT_PACKAGES]
    folders = [Path(spec.origin).parent for spec in specs if spec and spec.origin]
    return typst.Fonts(include_system_fonts=False, font_paths=folders)


def render(template: str, context: dict[str, Any], *, at: datetime) -> bytes:
    """A tagged PDF/UA-1 file from ``templates/documents/<template>``, dated ``at``.

    The document reads ``context`` with ``json(bytes(sys.inputs.data))``. The same context and instant
    give the same bytes.
    """
    import typst

    folder = settings.BASE_DIR / "templates" / "documents"
    document: bytes = typst.compile(
        folder / template,
        root=folder,
        font_paths=_fonts(),
        sys_inputs={"data": json.dumps(context, ensure_ascii=False, default=str)},
        pdf_standards=["ua-1"],
        timestamp=int(at.timestamp()),
    )
    return document
