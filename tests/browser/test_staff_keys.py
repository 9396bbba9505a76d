"""Keys: a soigneur comes in by the link on the screen, and a lost phone is signed out from there."""

import json

from browser.conftest import DESK, PHONE
from playwright.sync_api import expect
from support.live import Client
from support.pages import SYNC_LIMIT_MS, sign_in
from support.team import RIDER, staff_link


def test_somebody_is_invited_comes_in_and_is_signed_out_again(team, browser):
    server, admin = team
    desk = browser.new_context(**DESK).new_page()
    sign_in(desk, staff_link(admin, server, "admin", "Keeper Oste"))
    desk.goto(f"{server.base_url}/#/keys")

    desk.get_by_label("Name").fill("Rosa Tillmere")
    desk.get_by_role("button", name="Make an invitation").click()
    expect(desk.get_by_role("img", name="Code to scan")).to_be_visible(timeout=SYNC_LIMIT_MS)
    link = desk.get_by_text("#/join/").inner_text()

    phone = browser.new_context(**PHONE).new_page()
    sign_in(phone, link)
    desk.reload()
    out = desk.get_by_role("button", name="Sign out: Rosa Tillmere")
    expect(out).to_be_visible(timeout=SYNC_LIMIT_MS)
    out.click()
    desk.get_by_role("button", name="Yes, sign").click()
    person = desk.get_by_role("group", name="Rosa Tillmere")
    expect(person.get_by_text("signed out")).to_be_visible(timeout=SYNC_LIMIT_MS)

    phone.reload()
    expect(phone.get_by_text("Linked", exact=True)).to_be_hidden(timeout=SYNC_LIMIT_MS)
    assert json.loads(phone.evaluate("fetch('/api/me').then((r) => r.text())"))["code"] == "not_signed_in"
    desk.context.close()
    phone.context.close()


def test_a_coach_has_no_keys(team, browser):
    server, admin = team
    page = browser.new_context(**DESK).new_page()
    sign_in(page, staff_link(admin, server, "coach", "Nils Okerby"))
    page.goto(f"{server.base_url}/#/keys")

    expect(page.get_by_role("navigation")).to_be_visible()
    expect(page.get_by_role("button", name="Make an invitation")).to_be_hidden()
    page.context.close()


def test_a_lost_phones_entry_is_kept_and_all_devices_of_its_owner_end_at_once(own_team, browser):
    server, admin = own_team
    desk = browser.new_context(**DESK).new_page()
    sign_in(desk, staff_link(admin, server, "admin", "Keeper Oste"))
    hands = [Client(server.base_url, staff_link(admin, server, "soigneur", "Rosa Tillmere").rsplit("/", 1)[1])]
    hands.append(Client(server.base_url, admin.invite(member_id=hands[0].member["id"])))
    desk.goto(f"{server.base_url}/#/keys")
    expect(desk.get_by_text("Nothing waits.")).to_be_visible(timeout=SYNC_LIMIT_MS)

    desk.get_by_role("button", name="Sign out everywhere: Rosa Tillmere").click()
    desk.get_by_role("button", name="Yes, all devices of Rosa Tillmere").click()
    expect(desk.get_by_text("is signed out on every other device")).to_be_visible(timeout=SYNC_LIMIT_MS)
    person = desk.get_by_role("group", name="Rosa Tillmere")
    expect(person.get_by_text("signed out", exact=False)).to_have_count(2)

    for hand in hands:
        fact = hand.fact("poured", RIDER, {"volume_l": 0.25})
        body = {"protocol": 3, "device_id": hand.device_id, "cursor": None, "events": [fact]}
        assert hand.http.post("/api/exchange", json=body).json()["code"] == "revoked"
    desk.reload()
    desk.get_by_role("button", name="Keep: ").first.click()
    expect(desk.get_by_text("It counts from now on.")).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(desk.get_by_role("button", name="Leave: ")).to_have_count(1)
    desk.get_by_role("button", name="Leave: ").click()
    expect(desk.get_by_text("It counts for nothing.", exact=False).last).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(desk.get_by_text("Nothing waits.")).to_be_visible(timeout=SYNC_LIMIT_MS)

    admin.exchange()
    counted = [one["by"] for one in admin.events.values() if one["body"].get("volume_l") == 0.25]
    assert counted == [hands[0].member["id"]]
    for hand in hands:
        hand.close()
    desk.context.close()
