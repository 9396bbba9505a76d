"""Records to answers."""

from typing import Any

import msgspec
from litestar import Response

JSON = "application/json"


def answer(record: Any, *, status: int = 200) -> Response[bytes]:
    """Answer with a record as JSON."""
    return Response(msgspec.json.encode(record), status_code=status, media_type=JSON)
