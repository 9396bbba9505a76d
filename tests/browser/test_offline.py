"""Log with the server dead, reload, relaunch, come back: nothing lost, nothing doubled."""

import os
import signal
import subprocess
import time

from support.pages import Phone
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
