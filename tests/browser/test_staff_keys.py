"""Keys: a soigneur comes in by the link on the screen, and a lost phone is signed out from there."""

import json

from browser.conftest import PHONE
from playwright.sync_api import expect
from support.pages import SYNC_LIMIT_MS, sign_in
from support.team import staff_link

DESK = {"viewport": {"width": 1280, "height": 800}, "locale": "en-GB", "timezone_id": "Europe/Paris"}


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
    person = desk.get_by_role("region", name="Rosa Tillmere")
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
