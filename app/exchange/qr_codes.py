"""A QR code as a picture for a paper."""

import io

import segno


def qr_svg(text: str) -> str:
    """SVG with the quiet zone of four modules; a quarter of its codewords may be smudged or torn,
    as a folded paper is."""
    drawn = io.BytesIO()
    segno.make(text, error="q", micro=False).save(
        drawn, kind="svg", xmldecl=False, dark="#000", light="#fff", border=4
    )
    return drawn.getvalue().decode()
