"""The one door to the library of two-dimensional codes."""

import re

DARK = re.compile(b"\x01+")
QUIET = 4  # modules kept clear on every side, as ISO/IEC 18004 asks of a full-size symbol


def qr_svg(text: str) -> str:
    """A code that is still read with a quarter of it lost (level Q), dark on nothing, as an SVG picture.

    Upper-case letters, digits and ``$%*+-./:`` alone make a smaller code. The same text, the same picture.
    """
    import segno

    rows = segno.make(text, error="q", micro=False, boost_error=False).matrix
    side = len(rows) + 2 * QUIET
    runs = "".join(_runs(row, nth + QUIET) for nth, row in enumerate(rows))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}">'
        f'<path shape-rendering="crispEdges" d="{runs}"/></svg>'
    )


def _runs(row: bytearray, y: int) -> str:
    """Dark modules side by side as one rectangle each, so that no hairline shows between them."""
    return "".join(
        f"M{run.start() + QUIET} {y}h{len(run[0])}v1h-{len(run[0])}z" for run in DARK.finditer(row)
    )
