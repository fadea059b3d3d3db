"""A PDF as pictures of its pages, for looking at it before it is printed."""

from __future__ import annotations

import io

import pypdfium2


def pages(pdf: bytes, *, dpi: int = 96) -> tuple[bytes, ...]:
    """Each page as a PNG, in order; ValueError where the bytes are no PDF."""
    try:
        document = pypdfium2.PdfDocument(pdf)
    except pypdfium2.PdfiumError as error:
        raise ValueError("these bytes are no PDF") from error
    try:
        return tuple(_png(page, dpi) for page in document)
    finally:
        document.close()


def _png(page: pypdfium2.PdfPage, dpi: int) -> bytes:
    held = io.BytesIO()
    page.render(scale=dpi / 72).to_pil().save(held, "PNG")
    return held.getvalue()
