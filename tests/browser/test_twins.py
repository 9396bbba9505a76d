"""Two people note one bottle: the card gives a range, one tap makes it one, another makes it two again."""

from playwright.sync_api import expect
from support.live import Client
from support.pages import SYNC_LIMIT_MS, sign_in
from support.team import RIDER, STAGE, staff_link

BOTTLE = {"volume_l": 0.5, "n_bottles": 1, "drink_id": "standard"}


def _noted(admin, role, name):
    client = Client(str(admin.http.base_url), admin.invite(role=role, name=name))
    assert client.exchange(client.fact("handed_up", RIDER, BOTTLE, stage_id=STAGE))[0]["status"] == "ok"
    client.close()


def _words(admin):
    admin.settled()
    return [event["kind"] for event in admin.events.values() if event["kind"] in {"link", "unlink"}]


def test_a_twin_is_linked_by_one_tap_and_taken_apart_by_another(team, phone):
    server, admin = team
    for role, name in (("soigneur", "O. Brandt"), ("car", "Car 1")):
        _noted(admin, role, name)
    page = phone().pages[0]
    sign_in(page, staff_link(admin, server, "soigneur", "N. Falk"))
    page.goto(f"{server.base_url}/#/hand-up")
    picker = page.get_by_label("Stage")
    if picker.count():
        picker.first.select_option(STAGE)

    expect(page.get_by_role("heading", name="Noted twice?")).to_be_visible()
    expect(page.get_by_text("if it is one,")).to_be_visible()
    page.get_by_role("button", name="Same bottle").click()
    expect(page.get_by_text("two entries count as one bottle")).to_be_visible()
    page.get_by_role("button", name="They are two").click()
    expect(page.get_by_role("heading", name="Noted twice?")).to_have_count(0)
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=45_000)

    assert _words(admin) == ["link", "unlink"]
    page.context.close()


def test_the_evening_table_shows_a_range_until_somebody_says(own_team, browser):
    server, admin = own_team
    for role, name in (("soigneur", "P. Lind"), ("car", "Car 2")):
        _noted(admin, role, name)
    admin.settled()
    context = browser.new_context(viewport={"width": 1400, "height": 900}, locale="en-GB")
    page = context.new_page()
    sign_in(page, staff_link(admin, server, "physiologist", "M. Ros"))
    page.goto(f"{server.base_url}/#/settle")
    page.get_by_role("combobox", name="Stage").select_option(STAGE)
    agreed = page.locator(f"#cell-{RIDER}-agreed")

    expect(agreed).to_contain_text("0.50\N{EN DASH}1.00", timeout=SYNC_LIMIT_MS)
    agreed.click()
    expect(page.get_by_text("One bottle may be noted twice").first).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_role("button", name="Same bottle").click()
    expect(agreed).not_to_contain_text("\N{EN DASH}")
    expect(page.get_by_role("button", name="They are two")).to_be_visible()
    page.get_by_role("button", name="They are two").click()
    expect(agreed).not_to_contain_text("\N{EN DASH}")
    expect(agreed).to_contain_text("1.00", timeout=SYNC_LIMIT_MS)

    context.close()


def test_a_rider_says_at_the_bus_that_a_bottle_was_noted_twice(own_team, phone):
    server, admin = own_team
    for role, name in (("soigneur", "P. Lind"), ("car", "Car 2")):
        client = Client(str(admin.http.base_url), admin.invite(role=role, name=name))
        client.exchange(client.fact("drank", RIDER, {"volume_l": 0.25, "how": "count"}, stage_id=STAGE))
        client.close()
    page = phone().pages[0]
    link = f"{server.base_url}/#/join/{admin.invite(role='rider', name='Rider', rider_id=RIDER)}"
    sign_in(page, link)
    page.goto(f"{server.base_url}/#/bus")

    expect(page.get_by_role("heading", name="Noted twice?")).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_role("button", name="Same bottle").first.click()
    expect(page.get_by_text("two entries count as one bottle").first).to_be_visible()

    page.context.close()
