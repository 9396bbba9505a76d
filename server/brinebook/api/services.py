"""What the doorways share: one object, made by the composition root, handed to each handler."""

import threading
from dataclasses import dataclass, field
from functools import cached_property

from brinebook import clock
from brinebook.access.attempts import Attempts
from brinebook.api.gauges import Gauges
from brinebook.api.live import LiveHub
from brinebook.api.presence import Tables
from brinebook.jobs.heads import HeadWatch
from brinebook.jobs.queue import Queue
from brinebook.jobs.wakeups import WakeUps
from brinebook.planning.recompute import Changed
from brinebook.push.sender import PushSender
from brinebook.settings import Settings
from brinebook.storage.repository import Repository


@dataclass(frozen=True)
class Services:
    """The running parts of the server."""

    settings: Settings
    repository: Repository
    recompute: Queue
    heads: HeadWatch
    wakeups: WakeUps
    sender: PushSender
    live: LiveHub
    server_key: bytes
    attempts: Attempts = field(default_factory=Attempts)
    tables: Tables = field(default_factory=lambda: Tables(clock.now_ms))

    is_staying: threading.Event = field(default_factory=threading.Event)
    """Set from the end of starting to the beginning of stopping."""

    @cached_property
    def gauges(self) -> Gauges:
        """Give the figures of this server."""
        return Gauges(self.repository)

    def changed(self, team_id: str, changed: Changed) -> None:
        """Tell the queue and the open screens, after a commit."""
        self.recompute.add(team_id, changed)
        self.heads.moved(team_id)
