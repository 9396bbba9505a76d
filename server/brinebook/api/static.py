"""The built app: files of ``dist``; every other path is the app's own page."""

import mimetypes
from pathlib import Path

from anyio import to_thread
from litestar import Response, get
from litestar.exceptions import NotFoundException
from litestar.params import FromPath

from brinebook.api.handed import Running

INDEX = "index.html"
HASHED_FOLDER = "assets"
FOR_EVER = "public, max-age=31536000, immutable"
ASK_FIRST = "no-cache"
TYPES = {".webmanifest": "application/manifest+json", ".js": "text/javascript", ".woff2": "font/woff2"}


def find(dist: Path, path: str) -> Path:
    """Find the file of a path, or the app's page; never a file outside the folder."""
    root = dist.resolve()
    wanted = (root / path.lstrip("/")).resolve()
    is_inside = wanted.is_relative_to(root) and not any(part.startswith(".") for part in wanted.relative_to(root).parts)
    return wanted if is_inside and wanted.is_file() else root / INDEX


def _media_type(path: Path) -> str:
    # Litestar adds the character set to text by itself.
    return TYPES.get(path.suffix) or mimetypes.guess_type(path.name)[0] or "application/octet-stream"


def _answer(dist: Path | None, path: str) -> Response[bytes]:
    if dist is None or path == "/api" or path.startswith("/api/"):
        raise NotFoundException(detail="There is nothing here.")
    found = find(dist, path)
    if not found.is_file():
        raise NotFoundException(detail="The app is not built.")
    cache = FOR_EVER if HASHED_FOLDER in found.relative_to(dist.resolve()).parts else ASK_FIRST
    return Response(found.read_bytes(), media_type=_media_type(found), headers={"Cache-Control": cache})


@get(["/", "/{path:path}"])
async def app_file(services: Running, path: FromPath[str] = "/") -> Response[bytes]:
    """Answer with a file of the built app."""
    return await to_thread.run_sync(_answer, services.settings.dist, path)
