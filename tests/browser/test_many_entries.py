"""
Entries made offline while the browser is killed at random: every one arrives, once.

The suite plays a short round; ``BRINEBOOK_LONG=1`` plays the whole one, 200 entries and ten kills.
"""

import contextlib
import os
import random
import re
import signal
import subprocess
import time

import pytest
from playwright.sync_api import Error, expect
from support.pages import SYNC_LIMIT_MS, Phone
from support.team import MATE, rider_link

IS_LONG = os.environ.get("BRINEBOOK_LONG") == "1"
N_ENTRIES, N_KILLS = (200, 10) if IS_LONG else (16, 2)
TAP_GAP_S = 1.1
"""Three hits in two seconds read as rain, and the screen would ask first."""
LEVELS = ("¾", "½", "¼", "0")
BEFORE = {"¾": "1", "½": "¾", "¼": "½", "0": "¼"}


def _kill(profile: str) -> None:
    found = subprocess.run(["pgrep", "-f", f"user-data-dir={profile}"], capture_output=True, text=True, check=False)
    for pid in found.stdout.split():
        os.kill(int(pid), signal.SIGKILL)
    time.sleep(0.5)


def _held(page) -> int:
    """Read the count; the line says "Passing…" between two counts, so it is read until it is one."""
    line = page.locator(".link-line").first
    until = time.monotonic() + SYNC_LIMIT_MS / 1000
    while time.monotonic() < until:
        if (said := re.match(r"(\d+) held", line.inner_text())) is not None:
            return int(said[1])
        time.sleep(0.05)
    raise AssertionError(line.inner_text())


def _next_tap(page) -> None:
    """Drink one quarter more, from a fresh bottle when this one is empty."""
    for level in LEVELS:
        cage = page.locator("section.bottle-down_tube")
        if cage.get_attribute("aria-label").endswith(f" at {BEFORE[level]}"):
            page.get_by_role("button", name=f"Down tube: drunk down to {level}").click(delay=60)
            return
    page.get_by_role("button", name=re.compile("Down tube: drunk down to 0")).click(delay=60)
    page.get_by_role("button", name=re.compile("^Swap")).first.click()
    time.sleep(TAP_GAP_S)
    page.get_by_role("button", name="Down tube: drunk down to ¾").click(delay=60)


class KilledPhone:
    """One profile whose browser is killed and opened again, and how many entries it has confirmed."""

    def __init__(self, launch, profile: str, base_url: str):
        self.launch, self.profile, self.base_url = launch, profile, base_url
        self.context = launch()
        self.noted = 0

    @property
    def page(self):
        return self.context.pages[0]

    def note_one(self) -> None:
        """Tap once and wait until the phone says that it is durable."""
        _next_tap(self.page)
        line = self.page.locator(".link-line").first
        expect(line).to_have_text(f"{self.noted + 1} held on this phone", timeout=SYNC_LIMIT_MS)
        self.noted += 1
        time.sleep(TAP_GAP_S)

    def tap_and_die(self, wait_s: float) -> None:
        """Tap, kill the browser a moment later, open it again offline and count what is there."""
        _next_tap(self.page)
        time.sleep(wait_s)
        _kill(self.profile)
        with contextlib.suppress(Error):
            self.context.close()
        self.context = self.launch()
        self.page.goto(f"{self.base_url}/#/road")
        Phone(self.page).expect_road()
        held = _held(self.page)
        assert self.noted <= held <= self.noted + 1, "what the phone had confirmed is there, and nothing twice"
        self.noted = held


@pytest.mark.timeout(1500)
def test_every_entry_of_a_stage_offline_arrives_once_though_the_browser_is_killed(team, phone, tmp_path):
    server, admin = team
    admin.settled()
    known = set(admin.events)
    dice = random.Random(20260704)  # noqa: S311 a test that can be played again
    kills = dice.sample(range(2, N_ENTRIES - 1), N_KILLS)
    killed = KilledPhone(phone, str(tmp_path / "profile"), server.base_url)
    rider = Phone(killed.page)
    rider.join(rider_link(admin, server, MATE))
    rider.expect_road()
    rider.expect_linked()
    server.kill()

    for turn in range(2 * N_ENTRIES):
        if killed.noted >= N_ENTRIES:
            break
        if turn in kills:
            killed.tap_and_die(dice.random() * 0.1)
        else:
            killed.note_one()

    server.start()
    Phone(killed.page).expect_linked()
    killed.context.close()
    admin.settled()
    arrived = [event for id_, event in admin.events.items() if id_ not in known and event["kind"] == "drank"]

    assert len(arrived) == N_ENTRIES
    assert len({event["n"] for event in arrived}) == N_ENTRIES
    assert {event["body"]["volume_l"] for event in arrived} == {0.125}
