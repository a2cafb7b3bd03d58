"""Scripts, style sheet and fonts, under an address that changes with their content, so that they may be kept for ever."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Response

from subbase.web.looks import static_files

router = APIRouter()
_TYPES = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "ttf": "font/ttf",
}


@router.get("/static/{_version}/{name}", include_in_schema=False)
def static_file(_version: str, name: str) -> Response:
    """Return one static file."""
    data = static_files().get(name)
    kind = _TYPES.get(name.rpartition(".")[2])
    if data is None or kind is None:
        raise HTTPException(404, "There is no such file")
    return Response(data, media_type=kind, headers={"Cache-Control": "public, max-age=31536000, immutable"})
