"""Getting in where the team asks for passkeys, in a real browser with a virtual authenticator: no link is enough."""

import json
import re

import pytest
from browser.conftest import DESK
from playwright.sync_api import expect
from support.live import Client
from support.pages import SYNC_LIMIT_MS, sign_in
from support.team import RIDER, staff_link

WEIGHED = {"moment": "before", "mass_kg": 66.2}
DOCTOR = "Ines Karlund"
AUTHENTICATOR = {
    "protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
    "isUserVerified": True, "automaticPresenceSimulation": True,
}


def _page_with_keys(browser):
    page = browser.new_context(**DESK).new_page()
    session = page.context.new_cdp_session(page)
    session.send("WebAuthn.enable")
    made = session.send("WebAuthn.addVirtualAuthenticator", {"options": AUTHENTICATOR})
    return page, session, made["authenticatorId"]


@pytest.fixture
def asking(own_team):
    """A team that asks for passkeys, as long as the test lasts."""
    server, admin = own_team
    admin.http.put("/api/team/step-up", json={"is_asked": True}).raise_for_status()
    yield server, admin
    admin.http.put("/api/team/step-up", json={"is_asked": False}).raise_for_status()


def test_a_first_passkey_comes_before_others_figures_and_then_brings_in_the_next_device_alone(asking, browser):
    server, admin = asking
    admin.exchange(admin.fact("weighed", RIDER, WEIGHED))
    desk, cdp, authenticator = _page_with_keys(browser)
    sign_in(desk, staff_link(admin, server, "doctor", DOCTOR))
    waits = desk.get_by_role("group", name="The team asks for a passkey")
    expect(waits).to_be_visible(timeout=SYNC_LIMIT_MS)
    waits.get_by_role("button", name="Make a passkey").click()
    expect(waits).to_be_hidden(timeout=SYNC_LIMIT_MS)
    expect(desk.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)

    # The same passkey on another device: synced ones are there without asking anybody.
    other, other_cdp, other_authenticator = _page_with_keys(browser)
    for one in cdp.send("WebAuthn.getCredentials", {"authenticatorId": authenticator})["credentials"]:
        other_cdp.send("WebAuthn.addCredential", {"authenticatorId": other_authenticator, "credential": {
            **one, "signCount": one["signCount"] + 10,
        }})
    person = next(one for one in admin.http.get("/api/invites").json() if one["name"] == DOCTOR)
    other.goto(f"{server.base_url}/#/join/{admin.invite(member_id=person['id'])}")
    other.get_by_role("button", name="Join", exact=True).click()
    expect(other.get_by_role("alert")).to_contain_text("You have a passkey: sign in with it.", timeout=SYNC_LIMIT_MS)
    other.get_by_role("button", name="Staff: sign in with a passkey").click()
    expect(other.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)

    desk.goto(f"{server.base_url}/#/me")
    new = desk.get_by_text("New: joined in your name")
    expect(new).to_be_visible(timeout=SYNC_LIMIT_MS)
    desk.get_by_role("button", name=re.compile("^Sign out ")).click()
    desk.get_by_role("button", name="Yes, sign").click()
    expect(new).to_be_hidden(timeout=SYNC_LIMIT_MS)
    refused = json.loads(other.evaluate("fetch('/api/me').then((r) => r.text())"))
    assert refused["code"] == "not_signed_in"
    for page in (desk, other):
        page.context.close()


def test_an_admin_replaces_a_lost_passkey_from_the_desk(asking, browser):
    server, admin = asking
    lost = Client(server.base_url, admin.invite(role="doctor", name="Lost Keys"))
    desk, _, _ = _page_with_keys(browser)
    sign_in(desk, staff_link(admin, server, "admin", "Keeper Oste"))
    waits = desk.get_by_role("group", name="The team asks for a passkey")
    waits.get_by_role("button", name="Make a passkey").click()
    expect(waits).to_be_hidden(timeout=SYNC_LIMIT_MS)
    desk.goto(f"{server.base_url}/#/keys")
    desk.get_by_role("button", name="Lost the passkey: Lost Keys").click()
    desk.get_by_role("button", name="All passkeys of Lost Keys end").click()
    expect(desk.get_by_role("heading", name="Invitation for Lost Keys")).to_be_visible(timeout=SYNC_LIMIT_MS)
    link = desk.get_by_text("#/join/").inner_text()

    again = Client(server.base_url, link.rsplit("/", 1)[1])

    assert again.member["id"] == lost.member["id"]
    for one in (lost, again):
        one.close()
    desk.context.close()
