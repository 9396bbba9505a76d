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
    late = browser.new_context(**PHONE).new_page()
    late.goto(link)
    late.get_by_role("button", name="Join").click()
    expect(late.get_by_role("alert")).to_contain_text("This invitation was used", timeout=SYNC_LIMIT_MS)
    late.get_by_role("link", name="Type a code instead").click()
    expect(late.get_by_label("Code from your invitation")).to_be_visible()
    late.context.close()
    desk.reload()
    out = desk.get_by_role("button", name="Sign out: Rosa Tillmere")
    expect(out).to_be_visible(timeout=SYNC_LIMIT_MS)
    out.click()
    desk.get_by_role("button", name="Yes, sign").click()
    person = desk.get_by_role("group", name="Rosa Tillmere")
    expect(person.get_by_text("signed out", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)

    phone.reload()
    expect(phone.get_by_text("Linked", exact=True)).to_be_hidden(timeout=SYNC_LIMIT_MS)
    assert json.loads(phone.evaluate("fetch('/api/me').then((r) => r.text())"))["code"] == "not_signed_in"
    expect(phone.get_by_text("This phone needs a new invitation").first).to_be_visible(timeout=SYNC_LIMIT_MS)
    phone.goto(f"{server.base_url}/#/join")
    expect(phone.get_by_label("Code from your invitation")).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(phone.get_by_text("Whose phone is it?")).to_have_count(0)
    desk.context.close()
    phone.context.close()


def test_a_physiologist_is_offered_nobody_who_sees_or_decides_more_than_he(team, browser):
    server, admin = team
    Client(server.base_url, admin.invite(role="doctor", name="Dr Ines Karlund")).close()
    desk = browser.new_context(**DESK).new_page()
    sign_in(desk, staff_link(admin, server, "physiologist", "Sara Holm"))
    desk.goto(f"{server.base_url}/#/keys")

    person = desk.get_by_role("group", name="Dr Ines Karlund")
    expect(person).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(desk.get_by_text("Doctors and admins are invited by an admin.")).to_be_visible()
    expect(person.get_by_role("button", name="Another device")).to_have_count(0)
    expect(desk.get_by_role("option", name="doctor", exact=False)).to_have_count(0)
    expect(desk.get_by_role("option", name="soigneur", exact=False)).to_have_count(1)
    desk.context.close()


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
    expect(person.get_by_text("signed out", exact=True)).to_have_count(2)

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


def _over(page) -> int:
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


def test_an_invitation_comes_to_who_asked_for_it_and_long_names_fit_a_phone(own_team, browser):
    server, admin = own_team
    long = "Maximiliaan-Alexander van der Heyden-Oosterwijck"
    held = "Team phone with the cracked screen, kept in the blue van"
    hands = [Client(server.base_url, admin.invite(role="car", name=long))]
    for name in (held, held):
        body = {"secret": admin.invite(member_id=hands[0].member["id"]), "device_name": name, "device_key": name[:9]}
        hands[0].http.post("/api/join", json=body).raise_for_status()
    page = browser.new_context(**PHONE).new_page()
    sign_in(page, staff_link(admin, server, "admin", "Keeper Oste"))
    page.goto(f"{server.base_url}/#/keys")
    person = page.get_by_role("group", name=long)
    expect(person.get_by_text(f"{held} (2)", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)

    again = person.get_by_role("button", name=f"Another device for {long}")
    again.click()
    title = page.get_by_role("heading", name=f"Invitation for {long}")
    expect(title).to_be_focused(timeout=SYNC_LIMIT_MS)
    expect(title).to_be_in_viewport()
    assert _over(page) == 0
    page.get_by_role("button", name="Done").click()
    expect(title).to_be_hidden()
    expect(again).to_be_focused()

    out = person.get_by_role("button", name=f"Sign out: {long}, {held} (2)")
    out.click()
    expect(person.get_by_role("button", name="Yes, sign")).to_be_focused()
    assert _over(page) == 0
    person.get_by_role("button", name="Leave it").click()
    expect(out).to_be_focused()
    out.click()
    person.get_by_role("button", name="Yes, sign").click()
    expect(person.get_by_role("status")).to_be_focused(timeout=SYNC_LIMIT_MS)
    expect(person.get_by_role("status")).to_contain_text("is signed out")

    page.get_by_label("Name").fill(long.upper())
    expect(page.get_by_text(f"{long} is in already (Team car).")).to_be_visible()
    hands[0].close()
    page.context.close()
