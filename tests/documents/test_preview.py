"""A PDF becomes a picture a page."""

from datetime import UTC, datetime

import pypdfium2
import pytest

from planner.documents.preview import pages


def two_pages() -> bytes:
    import io

    document = pypdfium2.PdfDocument.new()
    document.new_page(200, 100)
    document.new_page(100, 200)
    held = io.BytesIO()
    document.save(held)
    return held.getvalue()


def test_every_page_is_a_picture_of_its_own_shape():
    import io

    from PIL import Image

    found = [Image.open(io.BytesIO(png)).size for png in pages(two_pages(), dpi=72)]
    assert found == [(200, 100), (100, 200)]


def test_other_bytes_are_refused():
    with pytest.raises(ValueError, match="no PDF"):
        pages(f"made {datetime.now(UTC)}".encode())
