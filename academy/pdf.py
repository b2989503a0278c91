"""The one door to the PDF library."""

import json
from datetime import datetime
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from django.conf import settings

FONT_PACKAGES = ("font_source_sans_pro", "pylopdf_fonts_ko")


@cache
def _font_folders() -> list[Path]:
    """Folders of the font packages, found without importing them."""
    specs = [find_spec(name) for name in FONT_PACKAGES]
    return [Path(spec.origin).parent for spec in specs if spec and spec.origin]


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
        font_paths=_font_folders(),
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(context, ensure_ascii=False, default=str)},
        pdf_standards=["ua-1"],
        timestamp=int(at.timestamp()),
    )
    return document
