"""Whoever leaves a phone leaves nothing on it, with or without a network, and its key opens nothing any more."""

import httpx
import pytest
from browser.conftest import PHONE
from playwright.sync_api import expect
from support.pages import SYNC_LIMIT_MS, Phone
from support.team import rider_link

STORED = """() => new Promise((done) => {
  const request = indexedDB.open("brinebook");
  request.onsuccess = () => {
    const db = request.result, tx = db.transaction([...db.objectStoreNames]);
    const all = [...db.objectStoreNames].map((name) => new Promise((one) => {
      const asked = tx.objectStore(name).getAll();
      asked.onsuccess = () => one([name, asked.result.length]);
    }));
    Promise.all(all).then((counts) => done([Object.fromEntries(counts), Object.keys(localStorage)]));
  };
})"""
HERE = """() => new Promise((done) => {
  const request = indexedDB.open("brinebook");
  request.onsuccess = () => {
    const asked = request.result.transaction("meta").objectStore("meta").get("session");
    asked.onsuccess = () => done([asked.result.token, asked.result.deviceId]);
  };
})"""


@pytest.fixture
def left(own_team, browser, request):
    """A rider who rode, noted, chose a theme and left, with the network or without."""
    server, admin = own_team
    context = browser.new_context(**PHONE)
    page = context.new_page()
    rider = Phone(page)
    rider.join(rider_link(admin, server))
    rider.expect_road()
    rider.drink_down_to("½")
    rider.expect_linked()
    token, device_id = page.evaluate(HERE)
    page.goto(f"{server.base_url}/#/me")
    page.get_by_text("Tarmac", exact=True).click()
    before = page.evaluate(STORED)
    context.set_offline(request.param == "offline")
    page.get_by_role("button", name="Leave", exact=True).click()
    page.get_by_role("button", name="Yes, take everything off").click()
    expect(page.get_by_role("button", name="Join", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    yield page, before, token, device_id
    context.close()


@pytest.mark.parametrize("left", ["online", "offline"], indirect=True)
def test_nothing_is_left_on_the_phone(left):
    page, (counts, shelves), *_ = left
    assert counts["ev"] > 0 < counts["docs"]
    assert len(shelves) > 2

    counts, shelves = page.evaluate(STORED)

    assert {name: n for name, n in counts.items() if n} == {}
    assert shelves == ["brinebook.theme"]
    expect(page.get_by_role("alert")).to_have_count(0)
    page.reload()
    expect(page.get_by_role("button", name="Join", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)


@pytest.mark.parametrize("left", ["online"], indirect=True)
def test_the_key_of_a_phone_that_was_left_opens_nothing(left, own_team):
    server, admin = own_team
    _, _, token, device_id = left

    answer = httpx.get(f"{server.base_url}/api/me", headers={"Authorization": f"Bearer {token}"})

    assert (answer.status_code, answer.json()["code"]) == (403, "revoked")
    devices = {one["id"]: one for one in admin.http.get("/api/team/devices").json()}
    assert devices[device_id]["is_revoked"]
