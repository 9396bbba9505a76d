"""What can be said, to whom, and what came of it."""

from enum import Enum
from typing import Protocol
from urllib.parse import urlsplit

from brinebook.push.errors import EndpointRefused
from brinebook.storage.repository import Subscription

PUSH_HOSTS = (
    "fcm.googleapis.com",
    ".push.services.mozilla.com",
    ".notify.windows.com",
    ".push.apple.com",
)


class Sentence(Enum):
    """All that a wake-up can ever carry: the name of a class. The phone holds one constant sentence per class."""

    PLAN = b"plan"
    SETTLE = b"settle"
    WEIGH = b"weigh"
    FLAG = b"flag"
    SYNC = b"sync"


class Outcome(Enum):
    """What became of one wake-up."""

    SENT = "sent"
    GONE = "gone"
    LATER = "later"
    REFUSED = "refused"


class PushSender(Protocol):
    """Sends one wake-up. Never raises: a wake-up is a hint, the exchange is what counts."""

    public_key: str

    def send(self, subscription: Subscription, sentence: Sentence) -> Outcome:
        """Send, and say what became of it."""


def checked_endpoint(endpoint: str) -> str:
    """Let pass only addresses of known push services, or raise ``EndpointRefused``."""
    try:
        parts = urlsplit(endpoint)
        port = parts.port
    except ValueError as problem:
        raise EndpointRefused from problem
    host = (parts.hostname or "").lower()
    is_known = any(host == known or (known.startswith(".") and host.endswith(known)) for known in PUSH_HOSTS)
    if parts.scheme != "https" or parts.username is not None or port not in {None, 443} or not is_known:
        raise EndpointRefused
    return endpoint


class SilentPushSender:
    """Sends nothing and remembers what it would have sent; for tests and for servers without keys."""

    def __init__(self) -> None:
        self.public_key = ""
        self.sent: list[tuple[Subscription, Sentence]] = []

    def send(self, subscription: Subscription, sentence: Sentence) -> Outcome:
        """Remember."""
        self.sent.append((subscription, sentence))
        return Outcome.SENT
