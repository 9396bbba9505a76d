"""Browser fixtures: the system's Chromium, a phone that survives a relaunch, a server that may be killed."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, BrowserType, Page
from support.live import Client, LiveServer
from support.pages import sign_in
from support.team import make_team, staff_link

ARGS = [
    "--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
    "--font-render-hinting=none", "--force-color-profile=srgb", "--hide-scrollbars",
]
CHROMIUM = shutil.which("chromium")
PHONE = {
    "viewport": {"width": 390, "height": 844}, "device_scale_factor": 2, "is_mobile": True, "has_touch": True,
    "locale": "en-GB", "timezone_id": "Europe/Paris", "service_workers": "allow", "reduced_motion": "reduce",
}
DESK = {"viewport": {"width": 1280, "height": 800}, "locale": "en-GB", "timezone_id": "Europe/Paris"}
LIVE: list[LiveServer] = []
DIST = Path(__file__).resolve().parents[2] / "pwa" / "dist"


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    return {**browser_type_launch_args, "executable_path": CHROMIUM, "args": ARGS}


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    return {**browser_context_args, **PHONE}


@pytest.fixture
def phone(browser_type: BrowserType, tmp_path: Path) -> Callable[..., BrowserContext]:
    """Open the same profile folder again and again: one phone, killed and relaunched."""

    def launch(**options: Any) -> BrowserContext:
        return browser_type.launch_persistent_context(
            str(tmp_path / "profile"), executable_path=CHROMIUM, args=ARGS, headless=True, **{**PHONE, **options},
        )

    return launch


@pytest.fixture(autouse=True)
def _server_is_left_running() -> Iterator[None]:
    """A test that failed while its server was killed must not take the others with it."""
    yield
    for server in LIVE:
        if server.process is None:
            server.start()


@contextmanager
def _running_team(home: Path) -> Iterator[tuple[LiveServer, Client]]:
    shutil.copytree(DIST, home / "dist")
    server = LiveServer(home / "data", dist=home / "dist")
    server.start()
    admin = make_team(server)
    LIVE.append(server)
    yield server, admin
    LIVE.remove(server)
    admin.close()
    server.stop()


@pytest.fixture(scope="session")
def team(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[LiveServer, Client]]:
    """A server with a small team; a test that kills the server starts it again."""
    with _running_team(tmp_path_factory.mktemp("team")) as running:
        yield running


@pytest.fixture(scope="module")
def own_team(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[LiveServer, Client]]:
    """A team of a file's own, for tests that count who is still to be settled."""
    with _running_team(tmp_path_factory.mktemp("own_team")) as running:
        yield running


@pytest.fixture
def open_as(browser: Browser, team: tuple[LiveServer, Client]) -> Iterator[Callable[..., Page]]:
    """Open a route as a member of staff, on a desk unless told otherwise; each call is a device of its own."""
    server, admin = team
    contexts = []

    def opened(role: str, route: str, options: dict[str, Any] = DESK, name: str = "Ines Aubry") -> Page:
        contexts.append(browser.new_context(**options))
        page = contexts[-1].new_page()
        sign_in(page, staff_link(admin, server, role, name))
        page.goto(f"{server.base_url}/#/{route}")
        return page

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture(scope="module")
def glass(browser: Browser, own_team: tuple[LiveServer, Client]) -> Iterator[dict[str, Page]]:
    """A physiologist's page on a desk and one on a phone, each signed in once for the whole file."""
    server, admin = own_team
    pages, contexts = {}, []
    for name, more in (("desk", {}), ("phone", {"viewport": PHONE["viewport"], "has_touch": True, "is_mobile": True})):
        contexts.append(browser.new_context(**{**DESK, **more}, accept_downloads=True))
        pages[name] = contexts[-1].new_page()
        sign_in(pages[name], staff_link(admin, server, "physiologist", f"Sara Holm, {name}"))
    yield pages
    for context in contexts:
        context.close()
