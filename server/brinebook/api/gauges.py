"""Figures for whoever watches the server: counts and times, never a name, an id of a person or a figure of a body."""

import time
from collections.abc import Awaitable, Callable, Iterator

from litestar.enums import ScopeType
from litestar.types import ASGIApp, Message, Receive, Scope, Send
from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.metrics_core import GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from brinebook import __version__
from brinebook.storage.repository import Repository

BUCKETS_S = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
UNKNOWN = "other"
BEGAN = "began_s"


class _OfStore(Collector):
    """Asks the store when it is asked itself: totals over all teams."""

    def __init__(self, repository: Repository) -> None:
        self._repository = repository

    def collect(self) -> Iterator[Metric]:
        """Count teams, facts and document versions."""
        heads = self._repository.all_heads().values()
        told = {
            "brinebook_teams": ("Teams kept", len(heads)),
            "brinebook_facts": ("Facts kept, of all teams", sum(one.events for one in heads)),
            "brinebook_document_versions": ("Versions of documents written", sum(one.documents for one in heads)),
            "brinebook_waiting_changes": ("Changes that wait for a worker", self._repository.n_waiting()),
            "brinebook_erasure_wishes": ("Wishes to be forgotten in their days of grace",
                                         len(self._repository.wishes())),
            "brinebook_last_fact_timestamp_seconds": ("When the last fact came in",
                                                      self._repository.last_received_ms() / 1000),
        }
        for name, (what, value) in told.items():
            yield GaugeMetricFamily(name, what, value=value)


class Gauges:
    """One registry per app, so that two apps in one process do not share figures."""

    def __init__(self, repository: Repository) -> None:
        self.registry = CollectorRegistry()
        self.requests = Counter(
            "brinebook_requests", "Answers by route and status", ["method", "route", "status"], registry=self.registry,
        )
        self.seconds = Histogram(
            "brinebook_request_seconds", "Time to the beginning of an answer", ["route"], buckets=BUCKETS_S,
            registry=self.registry,
        )
        self.busy = Gauge("brinebook_requests_in_progress", "Requests being answered", registry=self.registry)
        Gauge("brinebook_build", "Always 1", ["version"], registry=self.registry).labels(__version__).set(1)
        self.registry.register(_OfStore(repository))

    def text(self) -> bytes:
        """Write all figures in the text form of Prometheus."""
        return generate_latest(self.registry)


class Counting:
    """Notes when a request began, and how many are being answered."""

    def __init__(self, app: ASGIApp, gauges: Gauges) -> None:
        self._app = app
        self._gauges = gauges

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on."""
        scope["state"][BEGAN] = time.perf_counter()
        with self._gauges.busy.track_inprogress():
            await self._app(scope, receive, send)


def counter(gauges: Gauges) -> Callable[[Message, Scope], Awaitable[None]]:
    """Make what counts each answer as it starts, refusals too; by the pattern of the route, never by its address."""

    async def count(message: Message, scope: Scope) -> None:
        if message["type"] != "http.response.start" or scope["type"] == ScopeType.WEBSOCKET:
            return
        route, began_s = str(scope.get("path_template") or UNKNOWN), scope["state"].get(BEGAN)
        gauges.requests.labels(scope["method"], route, str(message["status"])).inc()
        if began_s is not None:
            gauges.seconds.labels(route).observe(time.perf_counter() - began_s)

    return count
