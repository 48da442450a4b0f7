"""What the API says of itself: the operations of both forms, in a file that is sent as it is.

To make it takes 13 MB, half a second and all routes loaded. `tests/api/test_document.py` does, and compares.
"""

from __future__ import annotations

from pathlib import Path

from fastapi.responses import FileResponse

from server.handed.routing import pages

ADDRESS = "/api/openapi.json"
DOCUMENT = Path(__file__).with_name("openapi.json")

router = pages()


@router.get(ADDRESS)
def show_document() -> FileResponse:
    """The OpenAPI document."""
    return FileResponse(DOCUMENT, media_type="application/json")
