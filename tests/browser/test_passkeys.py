"""Passkeys in a real browser, with a virtual authenticator (WebAuthn, W3C level 2, section 11, as CDP offers it)."""

import json
import sqlite3
from contextlib import closing

import httpx
import pytest
from brinebook.storage.sqlite import FILE_NAME
from browser.conftest import DESK
from playwright.sync_api import expect
from support.live import free_port
from support.pages import SYNC_LIMIT_MS, sign_in
from support.team import RIDER, staff_link

SIGN = """async (told) => {
  const publicKey = PublicKeyCredential.parseRequestOptionsFromJSON(JSON.parse(told));
  return JSON.stringify((await navigator.credentials.get({ publicKey })).toJSON());
}"""
WEIGHED = {"moment": "before", "mass_kg": 66.2}


@pytest.fixture(scope="module")
def desk(browser, own_team):
    """A doctor's desk whose browser holds a virtual authenticator; its passkey is made on the screen."""
    server, admin = own_team
    page = browser.new_context(**DESK).new_page()
    session = page.context.new_cdp_session(page)
    session.send("WebAuthn.enable")
    session.send("WebAuthn.addVirtualAuthenticator", {"options": {
        "protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
        "isUserVerified": True, "automaticPresenceSimulation": True,
    }})
    sign_in(page, staff_link(admin, server, "doctor", "Ines Karlund"))
    page.goto(f"{server.base_url}/#/me")
    page.get_by_role("button", name="Make a passkey").click()
    expect(page.get_by_text("The passkey is kept.")).to_be_focused(timeout=SYNC_LIMIT_MS)
    yield page
    page.context.close()


def _asked(server):
    return httpx.post(f"{server.base_url}/api/passkeys/options", json={}).text


def _handed_in(server, signed):
    return httpx.post(f"{server.base_url}/api/passkeys/sign-in", json={"credential": json.loads(signed)})


def test_an_answer_signs_in_once_and_its_replay_is_refused(own_team, desk):
    server, _ = own_team
    signed = desk.evaluate(SIGN, _asked(server))

    first, again = _handed_in(server, signed), _handed_in(server, signed)

    assert (first.status_code, first.json()["member"]["name"]) == (200, "Ines Karlund")
    assert (again.status_code, again.json()["code"]) == (403, "passkey_refused")


def test_what_another_origin_had_signed_is_refused(own_team, desk):
    """The host is the same, so the browser lets the false page use the passkey: only the server can tell."""
    server, _ = own_team
    false_page = f"http://localhost:{free_port()}/"
    desk.route(false_page, lambda route: route.fulfill(body="<h1>Halden Vale</h1>", content_type="text/html"))
    desk.goto(false_page)
    signed = desk.evaluate(SIGN, _asked(server))
    answer = _handed_in(server, signed)
    desk.goto(f"{server.base_url}/#/me")

    assert (answer.status_code, answer.json()["code"], answer.json()["field"]) == (403, "passkey_refused", "credential")
    expect(desk.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)


def test_the_owner_comes_back_on_an_emptied_device_without_an_invitation(own_team, desk):
    server, _ = own_team
    desk.goto(f"{server.base_url}/#/me")
    desk.get_by_role("button", name="Leave", exact=True).click()
    desk.get_by_role("button", name="Yes, take everything off").click()
    desk.get_by_role("button", name="Staff: sign in with a passkey").click()
    expect(desk.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    desk.goto(f"{server.base_url}/#/me")

    expect(desk.get_by_role("heading", name="Ines Karlund")).to_be_visible(timeout=SYNC_LIMIT_MS)


def test_others_figures_wait_until_the_doctor_shows_that_it_is_her(own_team, desk):
    server, admin = own_team
    admin.http.put("/api/team/step-up", json={"is_asked": True}).raise_for_status()
    with closing(sqlite3.connect(server.data / FILE_NAME, timeout=30)) as store, store:
        store.execute("UPDATE device SET verified_at_ms = 1 WHERE verified_at_ms IS NOT NULL")
    admin.exchange(admin.fact("weighed", RIDER, WEIGHED))
    desk.goto(f"{server.base_url}/#/")
    desk.reload()

    waits = desk.get_by_role("group", name="New records wait on the server")
    expect(waits).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(desk.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    waits.get_by_role("button", name="Show that it is me").click()
    expect(waits).to_be_hidden(timeout=SYNC_LIMIT_MS)
    expect(desk.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.http.put("/api/team/step-up", json={"is_asked": False}).raise_for_status()
