"""A QR code as a picture, so that nobody has to type an address from a paper."""

from __future__ import annotations

import importlib
import io

from curecal.errors import SourceError


def qr_svg(address: str) -> str:
    """Return an address as a QR code in SVG: dark on light, the same for the same address.

    Args:
        address: What it says.

    Raises:
        SourceError: What draws it is not installed (`paper-needs-web`).
    """
    try:
        segno = importlib.import_module("segno")
    except ImportError:
        raise SourceError("paper-needs-web") from None
    drawn = io.BytesIO()
    # A card hangs where it gets dirty: a quarter of its signs may be lost.
    code = segno.make(address, error="q", micro=False)
    code.save(drawn, kind="svg", dark="#000", light="#fff", xmldecl=False, svgns=True)
    return drawn.getvalue().decode()
