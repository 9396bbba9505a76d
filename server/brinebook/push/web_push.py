"""Web push with keys made at first start."""

import base64
import os
from pathlib import Path
from typing import Any

import requests
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from py_vapid import Vapid02, VapidException
from pywebpush import WebPushException, webpush

from brinebook.push.errors import EndpointRefused
from brinebook.push.public_only import plain_session
from brinebook.push.sender import Outcome, Sentence, checked_endpoint
from brinebook.storage.repository import Subscription

KEY_FILE_NAME = "vapid.pem"
TTL_S = 6 * 3600
TIMEOUT_S = 10.0
GONE_STATUSES = frozenset({404, 410})
SENT_STATUSES = frozenset({200, 201, 202, 204})
LATER_STATUSES = frozenset({429, 500, 502, 503, 504})


def load_key(data: Path) -> Vapid02:
    """Read the VAPID key of a data folder, made at first start and readable by its owner only."""
    path = data / KEY_FILE_NAME
    if not path.exists():
        made = Vapid02()
        made.generate_keys()
        data.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as stream:
            stream.write(made.private_pem())
    return Vapid02.from_file(str(path))


class WebPushSender:
    """Encrypts for the device, signs for the push service, sends."""

    def __init__(self, key: Vapid02, *, contact: str, session: Any = None) -> None:
        self._key = key
        self._contact = contact
        self._session = session if session is not None else plain_session()
        point = key.public_key.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
        self.public_key = base64.urlsafe_b64encode(point).rstrip(b"=").decode()

    def send(self, subscription: Subscription, sentence: Sentence) -> Outcome:
        """Send one wake-up."""
        try:
            endpoint = checked_endpoint(subscription.endpoint)
            answer = webpush(
                {"endpoint": endpoint, "keys": {"p256dh": subscription.p256dh, "auth": subscription.auth}},
                data=sentence.value.decode(),
                vapid_private_key=self._key,
                vapid_claims={"sub": self._contact},
                ttl=TTL_S,
                timeout=TIMEOUT_S,
                headers={"Topic": sentence.name.lower(), "Urgency": "normal"},
                requests_session=self._session,
            )
        except EndpointRefused:
            return Outcome.REFUSED
        except WebPushException as problem:
            return _outcome(getattr(problem.response, "status_code", None))
        except (requests.RequestException, VapidException, ValueError, TypeError):
            return Outcome.LATER
        return _outcome(getattr(answer, "status_code", None))


def _outcome(status: int | None) -> Outcome:
    if status in GONE_STATUSES:
        return Outcome.GONE
    if status is None or status in LATER_STATUSES:
        return Outcome.LATER
    return Outcome.SENT if status in SENT_STATUSES else Outcome.REFUSED
