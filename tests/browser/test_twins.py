"""Two people note one bottle: the card gives a range, one tap makes it one, another makes it two again."""

from playwright.sync_api import expect
from support.live import Client
from support.pages import sign_in
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

    expect(page.get_by_role("heading", name="Twin?")).to_be_visible()
    expect(page.get_by_text("if it is one,")).to_be_visible()
    page.get_by_role("button", name="Same bottle").click()
    expect(page.get_by_text("two entries count as one bottle")).to_be_visible()
    page.get_by_role("button", name="They are two").click()
    expect(page.get_by_role("heading", name="Twin?")).to_have_count(0)
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=45_000)

    assert _words(admin) == ["link", "unlink"]
    page.context.close()
