"""A code that can be scanned, as SVG for the page.

The size is a budget: level M, no boost, version 13 at most, printed 36 mm wide,
which leaves about 0.47 mm a module, wide enough for a plain office scanner.
"""

from __future__ import annotations

from io import BytesIO

from .errors import CodeTooLong

MAX_VERSION = 13
QUIET_ZONE = 4  # modules, the width ISO/IEC 18004 asks for


def qr_svg(text: str) -> str:
    """Return an SVG picture of a QR code that holds ``text``.

    Parameters
    ----------
    text : str
        A token or an address with a token, about 330 characters at most.

    Returns
    -------
    str
        SVG with a white ground, quiet zone 4, one unit a module.

    Raises
    ------
    CodeTooLong
        If the text is empty or needs more than version 13 at level M.
    """
    import segno

    if not text:
        raise CodeTooLong(
            "no text for the code",
            got="empty text",
            expected="1 to about 330 characters",
            do="Give the token.",
        )
    try:
        code = segno.make_qr(text, version=None, error="M", boost_error=False, encoding=None)
        version = int(code.version)
    except segno.DataOverflowError:
        version = 41
    if version > MAX_VERSION:
        raise CodeTooLong(
            "the text does not fit a code of the printed size",
            got=f"{len(text)} characters, version {version}",
            expected=f"version {MAX_VERSION} or less, about 330 characters",
            do="Put less into the token.",
        )
    out = BytesIO()
    code.save(
        out,
        kind="svg",
        border=QUIET_ZONE,
        dark="#000",
        light="#fff",
        xmldecl=False,
        svgns=True,
        nl=False,
        omitsize=True,
    )
    return out.getvalue().decode("utf-8")
