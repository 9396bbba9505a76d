"""Sends wake-ups from a thread of its own: a slow push service never delays an answer."""

import logging
import queue
import threading
from collections.abc import Collection, Iterable

from brinebook.push.sender import Outcome, PushSender, Sentence
from brinebook.records.common import Role
from brinebook.storage.errors import StorageError
from brinebook.storage.repository import Repository, Subscription

_log = logging.getLogger("brinebook.jobs")
_Item = tuple[Subscription, Sentence] | None


class WakeUps:
    """A queue of wake-ups; an address that is gone is forgotten."""

    def __init__(self, repository: Repository, sender: PushSender) -> None:
        self._repository = repository
        self._sender = sender
        self._queue: queue.Queue[_Item] = queue.Queue()
        self._thread = threading.Thread(target=self._run, name="wakeups", daemon=True)

    def start(self) -> None:
        """Start sending."""
        self._thread.start()

    def close(self) -> None:
        """Send what is queued, then stop."""
        self._queue.put(None)
        self._thread.join(timeout=30)

    def wait_until_idle(self) -> None:
        """Wait until everything queued was sent."""
        self._queue.join()

    def wake_riders(self, team_id: str, rider_ids: Iterable[str], sentence: Sentence) -> None:
        """Queue a wake-up for each device of the riders named."""
        wanted = set(rider_ids)
        for subscription in self._repository.subscriptions(team_id):
            if subscription.rider_id in wanted:
                self._queue.put((subscription, sentence))

    def wake_roles(self, team_id: str, roles: Collection[Role], sentence: Sentence) -> None:
        """Queue a wake-up for each device of the roles named."""
        for subscription in self._repository.subscriptions(team_id):
            if subscription.role in roles:
                self._queue.put((subscription, sentence))

    def _run(self) -> None:
        while (item := self._queue.get()) is not None:
            self._send(*item)
            self._queue.task_done()
        self._queue.task_done()

    def _send(self, subscription: Subscription, sentence: Sentence) -> None:
        outcome = self._sender.send(subscription, sentence)
        if outcome is Outcome.GONE:
            try:
                self._repository.delete_subscription(subscription.team_id, subscription.device_id)
            except StorageError:
                _log.warning("could not forget a wake-up address that is gone")
