"""Log with the server dead, reload, relaunch, come back: nothing lost, nothing doubled."""

import os
import signal
import subprocess
import time

from support.pages import SYNC_LIMIT_MS, Phone
from support.team import RIDER, rider_link


def _drank(admin):
    admin.settled()
    return [event for event in admin.events.values() if event["kind"] == "drank" and event["subject_id"] == RIDER]


def _browser_pids(profile: str) -> list[int]:
    found = subprocess.run(["pgrep", "-f", f"user-data-dir={profile}"], capture_output=True, text=True, check=False)
    return [int(pid) for pid in found.stdout.split()]


def test_what_is_noted_with_a_dead_server_arrives_once(team, phone, tmp_path):
    server, admin = team
    known = {event["id"] for event in _drank(admin)}
    context = phone()
    rider = Phone(context.pages[0])
    rider.join(rider_link(admin, server))
    rider.expect_road()
    rider.expect_linked()
    before_l = rider.noted_l()

    server.kill()
    rider.drink_down_to("½")
    rider.expect_held(1)
    rider.expect_noted_litres(f"{before_l + 0.25:.2f}")
    rider.reload()
    rider.expect_held(1)
    rider.expect_noted_litres(f"{before_l + 0.25:.2f}")
    rider.drink_down_to("½", cage="Seat tube")
    rider.expect_held(2)
    context.close()

    context = phone()
    relaunched = Phone(context.pages[0])
    context.pages[0].goto(f"{server.base_url}/#/road")
    relaunched.expect_road()
    relaunched.expect_held(2)
    relaunched.expect_noted_litres(f"{before_l + 0.50:.2f}")
    relaunched.drink_down_to("0")
    relaunched.expect_held(3)

    for pid in _browser_pids(str(tmp_path / "profile")):
        os.kill(pid, signal.SIGKILL)
    time.sleep(0.5)
    server.start()
    context = phone()
    context.pages[0].goto(f"{server.base_url}/#/road")
    back = Phone(context.pages[0])
    back.expect_road()
    back.expect_linked()
    back.expect_noted_litres(f"{before_l + 0.75:.2f}")
    context.close()
    arrived = [event for event in _drank(admin) if event["id"] not in known]

    assert sorted(event["body"]["volume_l"] for event in arrived) == [0.25, 0.25, 0.25]
    assert len({event["id"] for event in arrived}) == 3


def test_a_taken_back_entry_no_longer_counts(team, phone):
    server, admin = team
    context = phone()
    rider = Phone(context.pages[0])
    rider.join(rider_link(admin, server))
    rider.expect_road()
    before = context.pages[0].locator(".main-figure b").inner_text()

    context.pages[0].get_by_role("button", name="Swap bottle").first.tap()
    rider.drink_down_to("0")
    context.pages[0].get_by_role("button", name="Take back").tap()
    rider.expect_noted_litres(before)
    rider.expect_linked()
    context.close()
    admin.settled()

    voids = [event for event in admin.events.values() if event["kind"] == "void"]
    assert voids
    assert {event["ref"] for event in voids} <= set(admin.events)


def _wake_worker(page, base_url: str) -> None:
    """Let the browser say to the worker that the network is back."""
    session = page.context.new_cdp_session(page)
    found: list[dict] = []
    session.on("ServiceWorker.workerRegistrationUpdated", lambda told: found.extend(told["registrations"]))
    session.send("ServiceWorker.enable")
    until = time.monotonic() + 20
    while not found and time.monotonic() < until:
        page.wait_for_timeout(100)
    mine = next(one for one in found if one["scopeURL"].startswith(base_url) and not one["isDeleted"])
    session.send("ServiceWorker.dispatchSyncEvent", {
        "origin": base_url, "registrationId": mine["registrationId"], "tag": "exchange", "lastChance": False,
    })


def test_without_a_page_the_worker_hands_in_and_the_page_hears_the_verdict_later(team, phone):
    server, admin = team
    context = phone()
    page = context.pages[0]
    rider = Phone(page)
    rider.join(rider_link(admin, server))
    rider.expect_road()
    rider.expect_linked()
    known = {event["id"] for event in _drank(admin)}
    server.kill()
    rider.drink_down_to("¾")
    rider.expect_held(1)
    page.goto("about:blank")
    server.start()

    _wake_worker(page, server.base_url)
    until = time.monotonic() + SYNC_LIMIT_MS / 1000
    while len(_drank(admin)) == len(known) and time.monotonic() < until:
        time.sleep(0.2)
    arrived = [event for event in _drank(admin) if event["id"] not in known]
    page.goto(f"{server.base_url}/#/road")
    rider.expect_road()
    rider.expect_linked()
    context.close()

    assert len(arrived) == 1
    assert {event["id"] for event in _drank(admin)} == known | {arrived[0]["id"]}
