"""What only the printed sheet has: the code that leads back to the job."""

import io

import segno
from markupsafe import Markup


def qr_code(address: str) -> Markup:
    """QR code of an address as a picture inside the page; its size is set by the style sheet."""
    out = io.BytesIO()
    code = segno.make(address, error="m", micro=False)
    code.save(
        out,
        kind="svg",
        xmldecl=False,
        svgns=True,
        nl=False,
        omitsize=True,
        border=2,
        svgclass="qr-code",
        lineclass="qr-dots",
    )
    return Markup(out.getvalue().decode("utf-8"))  # made here, of an address of our own
