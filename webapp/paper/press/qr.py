"""QR codes as inline SVG, sized in mm."""

import segno
from markupsafe import Markup

# Modules of white that ISO/IEC 18004:2015, 5.3.8 asks for on every side.
QUIET = 4


def qr_svg(address: str, mm: float, title: str) -> Markup:
    """A QR code `mm` wide with its quiet zone; a quarter of it may be lost (level Q) under glue and fingers."""
    code = segno.make_qr(address, error="q")
    side = code.symbol_size(border=QUIET)[0]
    rows = []
    for y, row in enumerate(code.matrix_iter(border=QUIET)):
        start = None
        for x, dark in enumerate([*row, 0]):
            if dark and start is None:
                start = x
            elif not dark and start is not None:
                rows.append(f"M{start} {y}h{x - start}v1h-{x - start}z")
                start = None
    # Runs of whole modules as filled shapes: strokes would leave hairlines between them when printed.
    return Markup(
        '<svg xmlns="http://www.w3.org/2000/svg" class="qr" role="img" width="{mm}mm" height="{mm}mm"'
        ' viewBox="0 0 {side} {side}"><title>{title}</title><path fill="#000" d="{path}"/></svg>'
    ).format(mm=mm, side=side, title=title, path="".join(rows))
