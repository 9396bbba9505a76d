"""My data: choices with a tap each way, a copy that opens, a wish to be forgotten that can be taken back."""

import json
import re
import zipfile

from browser.conftest import PHONE
from playwright.sync_api import expect
from support.pages import SYNC_LIMIT_MS, sign_in
from support.team import RIDER, staff_link


def test_a_rider_chooses_takes_a_copy_and_takes_a_wish_back(own_team, browser):
    server, admin = own_team
    page = browser.new_context(**PHONE, accept_downloads=True).new_page()
    sign_in(page, staff_link(admin, server, "soigneur", "Rosa Tillmere"))
    page.goto(f"{server.base_url}/#/me")
    page.get_by_role("link", name="My data: copy, choices, erase").click()

    mine = page.get_by_role("navigation").get_by_role("link", name="Me", exact=True)
    expect(mine).to_have_attribute("aria-current", "true")
    sharing = page.get_by_role("group", name="Figures outside the team")
    allow, deny = (sharing.get_by_role("button", name=name, exact=True) for name in ("Allow", "Do not allow"))
    expect(allow).to_have_attribute("aria-pressed", "false", timeout=SYNC_LIMIT_MS)
    for pressed, other in ((allow, deny), (deny, allow)):
        pressed.click()
        expect(pressed).to_have_attribute("aria-pressed", "true", timeout=SYNC_LIMIT_MS)
        expect(other).to_have_attribute("aria-pressed", "false")
        expect(pressed).to_be_focused()

    page.get_by_role("button", name="Make the copy").click()
    expect(page.get_by_role("link", name="Save the copy")).to_be_focused(timeout=SYNC_LIMIT_MS)
    with page.expect_download(timeout=SYNC_LIMIT_MS) as kept:
        page.get_by_role("link", name="Save the copy").click()
    with zipfile.ZipFile(kept.value.path()) as packed:
        told = json.loads(packed.read("copy.json"))
    assert told["person"][0]["name"] == "Rosa Tillmere"
    assert [one["is_agreed"] for one in told["answers"] if one["notice"] == "sharing"] == [True, False]
    assert RIDER not in {fact["subject_id"] for fact in told["facts"]}

    wish = page.get_by_role("button", name="Ask to be erased")
    wish.click()
    page.get_by_role("button", name="Leave it").click()
    expect(wish).to_be_focused()
    wish.click()
    page.get_by_role("button", name="Yes, erase me in 14 days").click()
    expect(page.get_by_text("You are erased on")).to_be_focused(timeout=SYNC_LIMIT_MS)
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_text("You stay. Nothing is erased.")).to_be_focused(timeout=SYNC_LIMIT_MS)
    expect(wish).to_be_visible()
    expect(page.get_by_text("You are erased on")).to_be_hidden()
    page.context.close()


def test_what_nobody_asked_for_takes_no_focus_and_moves_no_page(own_team, browser):
    server, admin = own_team
    page = browser.new_context(**PHONE).new_page()
    sign_in(page, staff_link(admin, server, "soigneur", "Rosa Tillmere"))
    page.route("**/api/devices", lambda route: route.abort())
    page.goto(f"{server.base_url}/#/me")

    expect(page.get_by_text("The list comes with the network.")).to_be_attached(timeout=SYNC_LIMIT_MS)
    assert page.evaluate("[document.activeElement.tagName, scrollY]") == ["BODY", 0]
    page.context.close()


def test_a_person_reads_how_long_it_is_kept_and_an_admin_sets_it_for_all_to_see(own_team, browser):
    server, admin = own_team
    page = browser.new_context(**PHONE).new_page()
    sign_in(page, staff_link(admin, server, "admin", "Ottilie Brack"))
    page.goto(f"{server.base_url}/#/mine")
    symptoms = page.get_by_role("listitem").filter(has_text="Symptoms and notes")
    expect(symptoms.get_by_text("12 months").first).to_be_visible(timeout=SYNC_LIMIT_MS)

    symptoms.get_by_label("Months for: Symptoms and notes").select_option("6")
    expect(symptoms.get_by_text(re.compile("^From .*: 6 months"))).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.context.close()

    page = browser.new_context(**PHONE).new_page()
    sign_in(page, staff_link(admin, server, "soigneur", "Rosa Tillmere"))
    page.goto(f"{server.base_url}/#/mine")
    symptoms = page.get_by_role("listitem").filter(has_text="Symptoms and notes")
    expect(symptoms.get_by_text(re.compile("^From .*: 6 months"))).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(page.get_by_label("Months for: Symptoms and notes")).to_have_count(0)
    page.context.close()
