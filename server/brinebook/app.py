"""The composition root: the only file that knows every floor."""

import hashlib
import importlib
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from litestar import Litestar, Router
from litestar.config.compression import CompressionConfig
from litestar.datastructures import State
from litestar.di import Provide
from litestar.middleware import DefineMiddleware

from brinebook.api import static
from brinebook.api.auth import BearerMiddleware
from brinebook.api.gauges import Counting, counter
from brinebook.api.headers import add_headers
from brinebook.api.live import LiveHub
from brinebook.api.problems import answer_problem
from brinebook.api.routes import (
    catalogue,
    desk,
    exchanging,
    joining,
    keys,
    mine,
    passkeys,
    records,
    rides,
    sheets,
    stages,
    tables,
    waking,
    watching,
    why,
)
from brinebook.api.services import Services
from brinebook.jobs.heads import HeadWatch, NewsChannel
from brinebook.jobs.keeper import Keeper
from brinebook.jobs.news import News
from brinebook.jobs.queue import Queue
from brinebook.jobs.recompute_queue import RecomputeQueue
from brinebook.jobs.wakeups import WakeUps
from brinebook.jobs.worker_process import end_with_parent
from brinebook.planning.recompute import Changed, recompute
from brinebook.push.sender import PushSender
from brinebook.records.edited import Rider, Stage
from brinebook.records.facts import BODY_BY_KIND
from brinebook.settings import Settings
from brinebook.storage.mapping import TYPE_NAMES
from brinebook.storage.repository import Repository
from brinebook.storage.sql import SqlRepository

Compute = Callable[[Repository, str, Changed], None]
MAX_BODY_BYTES = 8_000_000
MIN_GZIP_BYTES = 1000
GZIP_LEVEL = 4
"""A reply of 50 facts: 0.3 ms for 4.9 kB; level 9 takes 0.9 ms for 4.6 kB."""
SIGNED_IN = [
    joining.me, joining.who_looked, joining.next_token, joining.team_devices, joining.list_devices,
    joining.make_invite, joining.list_members, joining.revoke_device,
    keys.list_aside, keys.decide_aside, keys.end_devices,
    mine.take_copy, mine.preview_erasure, mine.wish_erasure, mine.take_erasure_back, mine.list_notices,
    mine.answer_notice, mine.list_months, mine.put_months,
    passkeys.list_passkeys, passkeys.register_options, passkeys.register_passkey, passkeys.forget_passkey,
    passkeys.verify_options, passkeys.verify, passkeys.put_step_up,
    exchanging.exchange_route, exchanging.live,
    records.put_rider, records.put_rider_body, records.put_drink, records.put_food, records.put_stage,
    records.put_supply, records.put_palate, records.put_kit, records.put_goals,
    catalogue.post_label, catalogue.post_recipe,
    sheets.get_prep, sheets.get_labels, sheets.get_cards, sheets.get_grid, sheets.get_report,
    stages.post_course, stages.post_made_course,
    stages.post_forecast, stages.post_plan, stages.post_publish, rides.preview_ride,
    rides.post_ride, why.why, waking.subscribe, waking.unsubscribe, desk.post_presence,
    desk.post_what_if, desk.get_rules, tables.export_table, tables.import_table,
]
OPEN = [
    joining.join, passkeys.sign_in_options, passkeys.sign_in, exchanging.health, watching.ready, watching.metrics,
    static.app_file,
]


def everything(repository: Repository, team_id: str) -> Changed:
    """Name everything as changed: what a start after a crash computes."""
    return Changed(
        subject_ids=frozenset(rider.id for rider in repository.all_edited(team_id, Rider)),
        kinds=frozenset(BODY_BY_KIND),
        stage_ids=frozenset(stage.id for stage in repository.all_edited(team_id, Stage)),
        edited_types=frozenset(TYPE_NAMES.values()),
    )


def make_work(
    repository: Repository, compute: Compute, news: News, moved: Callable[[str], None],
) -> Callable[[str, Changed], None]:
    """Put together what a computation is: compute, tell screens, note how far it went, wake who should know."""

    def work(team_id: str, changed: Changed) -> None:
        head, document_head = repository.head(team_id), repository.document_head(team_id)
        try:
            compute(repository, team_id, changed)
        finally:
            moved(team_id)
        repository.mark_computed(team_id, head)
        news.tell(team_id, document_head)

    return work


def make_services(
    settings: Settings, repository: SqlRepository, sender: PushSender, server_key: bytes, *,
    compute: Compute = recompute,
) -> Services:
    """Put the parts together; where servers share a database, workers compute and heads travel between servers."""
    live, url = LiveHub(), settings.database_url
    wakeups = WakeUps(repository, sender)
    heads = HeadWatch(repository, live.heard, live.tell, channels=channels(url))
    work = make_work(repository, compute, News(repository, wakeups), heads.moved)
    return Services(
        settings=settings, repository=repository, wakeups=wakeups, sender=sender, live=live, server_key=server_key,
        recompute=shared_queue(repository, url) if url else RecomputeQueue(work), heads=heads,
    )


def shared_queue(repository: SqlRepository, url: str) -> Queue:
    """Make the queue of servers that share a database; its library is needed there only."""
    made: Queue = importlib.import_module("brinebook.jobs.shared_queue").SharedQueue(repository, url)
    return made


def channels(url: str) -> Callable[[], NewsChannel] | None:
    """Give what carries news between servers that share a database, or None for a server alone."""
    if not url:
        return None
    made: Callable[[str], NewsChannel] = importlib.import_module("brinebook.storage.channel").Channel
    return lambda: made(url)


def run_worker(settings: Settings, repository: SqlRepository, sender: PushSender, *, is_with_parent: bool) -> None:
    """Compute what servers on a shared database ask for, until asked to stop."""
    if is_with_parent:
        end_with_parent()
    url = settings.database_url
    wakeups = WakeUps(repository, sender)
    heads = HeadWatch(repository, frozenset, lambda *_: None, channels=channels(url))
    work = make_work(repository, recompute, News(repository, wakeups), heads.moved)
    shared = importlib.import_module("brinebook.jobs.shared_queue")
    shared.prepare(url, repository)
    wakeups.start()
    heads.start()
    try:
        shared.run(shared.worker(repository, url, work))
    finally:
        heads.close()
        wakeups.close()


def make_app(services: Services) -> Litestar:
    """Make the application; its threads live as long as it does."""

    def let_go_in(team_id: str) -> None:
        services.changed(team_id, everything(services.repository, team_id))

    keeper = Keeper(services.repository, services.settings.data, let_go_in)

    @asynccontextmanager
    async def lifespan(_: Litestar) -> AsyncIterator[None]:
        services.recompute.start()
        services.wakeups.start()
        services.heads.start()
        keeper.start()
        for team_id in services.repository.uncomputed_team_ids():
            services.recompute.add(team_id, everything(services.repository, team_id))
        services.is_staying.set()
        try:
            yield
        finally:
            services.is_staying.clear()
            keeper.close()
            services.recompute.close()
            services.heads.close()
            services.wakeups.close()

    def provide_services() -> Services:
        return services

    return Litestar(
        route_handlers=[Router(path="/", route_handlers=SIGNED_IN, middleware=[BearerMiddleware]), *OPEN],
        dependencies={"services": Provide(provide_services, sync_to_thread=False)},
        state=State({"services": services}),
        lifespan=[lifespan],
        middleware=[DefineMiddleware(Counting, gauges=services.gauges)],
        exception_handlers={Exception: answer_problem},
        before_send=[add_headers, counter(services.gauges)],
        compression_config=CompressionConfig(
            backend="gzip", minimum_size=MIN_GZIP_BYTES, gzip_compress_level=GZIP_LEVEL, exclude=["^/api/live$"],
        ),
        request_max_body_size=MAX_BODY_BYTES,
        openapi_config=None,
        logging_config=None,
        debug=False,
    )


def server_key(private_pem: bytes) -> bytes:
    """Derive the key of device tokens from the one secret of the data folder."""
    return hashlib.sha256(b"brinebook device tokens\n" + private_pem).digest()
