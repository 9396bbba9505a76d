"""What can go wrong with wake-ups."""

from dataclasses import dataclass


class PushError(Exception):
    """Base of all push errors."""


@dataclass(eq=False)
class EndpointRefused(PushError):
    """The address is not one of a known push service; requests must never go where a client points."""

    field: str = "endpoint"
    limit: str = "an https address of a known push service"
