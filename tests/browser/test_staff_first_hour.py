"""The quiet first hour: from an empty book to a published plan on one guided path, every interaction counted."""

from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect
from support.live import Client, LiveServer
from support.pages import SYNC_LIMIT_MS, sign_in

DIST = Path(__file__).resolve().parents[2] / "pwa" / "dist"
EMPTY_ROUTES = (
    "settle", "plans", "three-weeks", "weigh-room", "sweat-day", "rides", "season", "drinks/tastes", "coolbox",
    "slate", "hand-up", "returns", "rider",
)
MOST_INTERACTIONS = 40
ROSTER = "61 Teodor Maravel 63.4\n62 Sefu Okunde 70 1.84 31 m\n"


class Hand:
    """Clicks and types as a person does, and counts."""

    def __init__(self) -> None:
        self.n = 0

    def press(self, what: Locator) -> None:
        self.n += 1
        what.click()

    def type_into(self, what: Locator, text: str) -> None:
        # A field is one visit and one text, each counted.
        self.n += 2
        what.fill(text)


@pytest.fixture
def empty(tmp_path):
    server = LiveServer(tmp_path / "data", dist=DIST)
    server.start()
    yield server
    server.stop()


def _reach_the_first_steps(page: Page, server: LiveServer, hand: Hand) -> Client:
    admin = Client(server.base_url, server.invite_admin())
    sign_in(page, f"{server.base_url}/#/join/{admin.invite(role='physiologist', name='Sara Holm')}")
    hand.n += 1
    page.goto(f"{server.base_url}/#/settle")
    hand.press(page.get_by_role("link", name="First steps: from nothing to the first plan"))
    return admin


@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_an_empty_team_reaches_its_first_published_plan_in_under_forty_interactions(browser, empty, size):
    hand = Hand()
    viewport = {"width": size[0], "height": size[1]}
    context = browser.new_context(viewport=viewport, locale="en-GB", timezone_id="Europe/Paris")
    page = context.new_page()
    admin = _reach_the_first_steps(page, empty, hand)

    hand.type_into(page.get_by_label("One rider per line"), ROSTER)
    expect(page.get_by_text("2 riders read. One stands at a default")).to_be_visible()
    hand.press(page.get_by_role("button", name="Keep the riders"))
    hand.press(page.get_by_role("button", name="Keep these drinks"))
    hand.type_into(page.get_by_label("Name", exact=True), "Harbour to Hill")
    hand.type_into(page.get_by_label("Day of the start"), "2026-07-04")
    hand.type_into(page.get_by_label("At the start", exact=True), "24")
    hand.type_into(page.get_by_label("Warmest"), "31")
    hand.press(page.get_by_role("button", name="Keep the stage"))
    expect(page.get_by_role("button", name="Take the default and publish")).to_be_visible(timeout=SYNC_LIMIT_MS)
    hand.press(page.get_by_role("button", name="Take the default and publish"))
    expect(page.get_by_text("The first plans are on the phones.")).to_be_visible(timeout=2 * SYNC_LIMIT_MS)
    hand.press(page.get_by_role("link", name="See them"))

    expect(page.get_by_role("heading", name="61 Teodor Maravel")).to_be_visible()
    context.close()
    admin.settled()
    plans = [document["body"] for id_, document in admin.documents.items() if id_.startswith("stage_plan:")]
    admin.close()
    assert {plan["status"] for plan in plans} == {"published"}
    assert len(plans) == 2
    assert all(plan["water_l"] > 0 and plan["steps"] for plan in plans)
    assert hand.n < MOST_INTERACTIONS, hand.n
    print(f"interactions: {hand.n}")


def test_every_page_of_an_empty_team_leads_to_the_first_steps(browser, empty):
    context = browser.new_context(viewport={"width": 390, "height": 844}, locale="en-GB")
    page = context.new_page()
    sign_in(page, f"{empty.base_url}/#/join/{empty.invite_admin()}")
    for route in EMPTY_ROUTES:
        page.goto(f"{empty.base_url}/#/{route}")
        expect(page.locator("main a[href='#/start']"), route).to_be_visible(timeout=SYNC_LIMIT_MS)
    context.close()
