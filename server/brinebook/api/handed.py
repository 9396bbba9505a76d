"""What a handler is handed: who asks, the running parts."""

from typing import Any, TypeAlias

from litestar import Request
from litestar.di import NamedDependency

from brinebook.access.devices import SignedIn
from brinebook.api.services import Services

Asked: TypeAlias = Request[SignedIn, Any, Any]
Running: TypeAlias = NamedDependency[Services]


def origin_of(request: Asked, services: Services) -> str:
    """Name the address people reach the server by: as it was set, or as this request found it."""
    return services.settings.origin or str(request.base_url).rstrip("/")
