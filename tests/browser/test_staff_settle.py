"""The evening table: by keyboard alone, by paste, by two people at once, without a network, and on a phone."""

import pytest
from browser.conftest import DESK
from playwright.sync_api import Page, expect
from support.pages import SYNC_LIMIT_MS, cell, give_a_reason_where_asked, linked, paste
from support.team import MATE, NEXT_STAGE, RIDER


@pytest.fixture(scope="module")
def team(own_team):
    """Settle a team nobody else settles: the crate is shared over those still open."""
    return own_team


@pytest.fixture
def open_desk(open_as):
    def opened(name: str, **options) -> Page:
        page = open_as("physiologist", "settle", {**DESK, **options}, name)
        page.get_by_role("combobox", name="Stage").select_option(NEXT_STAGE)
        return page

    return opened


def _live(admin, kind: str, rider_id: str) -> list[dict]:
    admin.settled()
    voided = {event["ref"] for event in admin.events.values() if event["kind"] == "void"}
    found = [event for event in admin.events.values() if event["kind"] == kind and event["subject_id"] == rider_id]
    return sorted((event for event in found if event.get("stage_id") == NEXT_STAGE and event["id"] not in voided),
                  key=lambda event: event["lamport"])


def test_a_stage_is_settled_from_nothing_by_keyboard_alone(team, open_desk):
    _, admin = team
    page = open_desk("Ada Merin")
    mass_kg = admin.body(f"rider_body:{MATE}")["mass_kg"]
    cell(page, MATE, "agreed").focus()

    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    for typed in (f"{mass_kg}", f"{mass_kg - 1.9:.1f}", "0.3", "0.2", "3", "0.4", "0.2", "0", "2.3"):
        page.keyboard.type(typed)
        page.keyboard.press("Tab")
        expect(page.locator(".sx-cell-input")).to_have_count(0)
    expect(cell(page, MATE, "agreed")).to_be_focused()
    linked(page)
    admin.settled()
    preview = page.get_by_role("region", name="If you agree")
    expect(preview).to_contain_text("sweat factor goes from", timeout=SYNC_LIMIT_MS)

    page.keyboard.press("Enter")
    page.keyboard.type("2,9")
    page.keyboard.press("Enter")
    expect(page.get_by_role("group", name="Why 2,9")).to_be_visible()
    page.get_by_label("Missed bottle", exact=True).focus()
    page.keyboard.press("Space")
    page.keyboard.press("Enter")

    expect(cell(page, MATE, "state")).to_contain_text("settled by Ada Merin", timeout=SYNC_LIMIT_MS)
    linked(page)
    agreed = _live(admin, "agreed", MATE)[-1]["body"]
    assert (agreed["drunk_l"], agreed["reason"], agreed["over"]) == (2.9, "missed_bottle", [])
    settlement = admin.body(f"settlement:{MATE}:{NEXT_STAGE}")
    assert (settlement["handed_up_l"], settlement["came_back_l"], settlement["poured_l"]) == (3.0, 0.4, 0.2)
    assert settlement["factor_after"] != settlement["factor_before"]


def test_a_lower_total_takes_entries_back_and_nothing_is_overwritten(team, open_desk):
    _, admin = team
    page = open_desk("Ada Merin")
    cell(page, RIDER, "back").focus()
    for typed in ("0.6", "0.25"):
        page.keyboard.type(typed)
        page.keyboard.press("Tab")
        page.keyboard.press("ArrowLeft")
        expect(cell(page, RIDER, "back")).to_contain_text(f"{float(typed):.2f}")
    linked(page)

    kept = _live(admin, "came_back", RIDER)
    about_him = [event for event in admin.events.values() if event["subject_id"] == RIDER]
    all_made = [event for event in about_him if event["kind"] == "came_back"]
    assert sum(event["body"]["left_l"] for event in kept) == pytest.approx(0.25)
    assert len(all_made) > len(kept)


def test_a_block_from_a_spreadsheet_waits_until_it_is_kept_and_says_what_is_wrong(team, open_desk):
    _, admin = team
    page = open_desk("Ada Merin")
    cell(page, RIDER, "poured").focus()
    n_known = len(_live(admin, "poured", RIDER))

    paste(page, "0,3\t0.5\n")
    paste(page, "0,3\t44\n")
    expect(page.get_by_text("2 figures are typed and not kept yet.")).to_be_visible()
    assert len(_live(admin, "poured", RIDER)) == n_known
    page.get_by_role("button", name="Keep them").click()

    expect(cell(page, RIDER, "poured")).to_contain_text("0.30")
    expect(page.get_by_role("alert").filter(has_text="Lost: 44 L is above the limit of 20 L.")).to_be_visible()
    expect(cell(page, RIDER, "lost")).to_contain_text("44")


def test_two_people_at_one_cell_choose_and_neither_is_overwritten(team, open_desk):
    _, admin = team
    ana, ben = open_desk("Ana Berg"), open_desk("Ben Aro")
    cell(ben, RIDER, "agreed").focus()
    ben.keyboard.press("Enter")
    ben.keyboard.type("1.4")
    expect(cell(ana, RIDER, "agreed")).to_have_attribute("data-by", "Ben Aro", timeout=SYNC_LIMIT_MS)

    cell(ana, RIDER, "agreed").focus()
    ana.keyboard.press("Enter")
    ana.keyboard.type("1.2")
    ana.keyboard.press("Enter")
    give_a_reason_where_asked(ana, RIDER, "1.2", "Other")
    expect(cell(ana, RIDER, "state")).to_contain_text("settled by Ana Berg")
    said = ben.get_by_role("group", name="Changed meanwhile: Agreed, L")
    expect(said).to_contain_text("Ana Berg", timeout=SYNC_LIMIT_MS)
    expect(said).to_contain_text("to 1.20 while you typed 1.4")
    said.get_by_role("button", name="Take theirs").click()

    expect(said).to_have_count(0)
    linked(ben)
    assert [event["body"]["drunk_l"] for event in _live(admin, "agreed", RIDER)] == [1.2]


def test_two_figures_agreed_without_a_network_stand_side_by_side_until_one_is_chosen(team, open_desk):
    server, admin = team
    ana, ben = open_desk("Ana Berg"), open_desk("Ben Aro")
    for page in (ana, ben):
        cell(page, RIDER, "agreed").focus()
    ana.get_by_label("Why open it again?").fill("a bottle was found")
    ana.get_by_role("button", name="Reopen").click()
    expect(cell(ben, RIDER, "state")).not_to_contain_text("settled", timeout=SYNC_LIMIT_MS)
    server.kill()
    for page, typed in ((ana, "1.6"), (ben, "2.1")):
        cell(page, RIDER, "agreed").focus()
        page.keyboard.press("Enter")
        page.keyboard.type(typed)
        page.keyboard.press("Enter")
        give_a_reason_where_asked(page, RIDER, typed, "Other")
        expect(cell(page, RIDER, "state")).to_contain_text("settled")
    ana.reload()
    expect(cell(ana, RIDER, "state")).to_contain_text("settled by Ana Berg", timeout=SYNC_LIMIT_MS)
    server.start()

    cell(ana, RIDER, "agreed").click(timeout=SYNC_LIMIT_MS)
    both = ana.get_by_role("group", name="two figures")
    expect(both).to_contain_text("1.60 L", timeout=2 * SYNC_LIMIT_MS)
    expect(both).to_contain_text("2.10 L")
    both.get_by_role("button", name="Take 1.60 L").click()

    expect(both).to_have_count(0)
    linked(ana)
    admin.settled()
    settlement = admin.body(f"settlement:{RIDER}:{NEXT_STAGE}")
    assert settlement["agreed_drunk_l"] == 1.6
    assert "agreed_twice" not in {flag["code"] for flag in settlement.get("flags", [])}


def test_the_teams_crate_is_counted_and_shared_over_open_riders(team, open_desk):
    _, admin = team
    page = open_desk("Ada Merin")
    cell(page, RIDER, "agreed").focus()
    page.get_by_label("Why open it again?").fill("crate counted late")
    page.get_by_role("button", name="Reopen").click()
    expect(cell(page, RIDER, "state")).not_to_contain_text("settled", timeout=SYNC_LIMIT_MS)
    cell(page, RIDER, "up").focus()
    page.keyboard.type("3")
    page.keyboard.press("Enter")
    expect(cell(page, RIDER, "up")).to_contain_text("3.00", timeout=SYNC_LIMIT_MS)
    linked(page)
    before_l = sum(event["body"]["left_l"] for event in _live(admin, "came_back", RIDER))

    page.get_by_label("Bottles Back in the crate, no name").fill("2")
    page.locator("form", has_text="Back in the crate").get_by_role("button", name="Count").click()
    page.get_by_role("button", name="Share 1.00 L over one rider").click()
    expect(page.locator("form", has_text="Back in the crate")).to_contain_text("0.00 L")
    linked(page)

    after_l = sum(event["body"]["left_l"] for event in _live(admin, "came_back", RIDER))
    assert after_l - before_l == pytest.approx(1.0)


def test_a_row_is_settled_on_a_phone(team, open_desk):
    _, admin = team
    if admin.body(f"settlement:{RIDER}:{NEXT_STAGE}")["state"] == "settled":
        admin.exchange(admin.fact("reopened", RIDER, {"reason": "for the phone"}, stage_id=NEXT_STAGE))
        admin.settled()
    page = open_desk("Ada Merin", viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    card = page.locator(".sx-card").filter(has_text=admin.body(f"rider:{RIDER}")["name"])
    card.get_by_role("button", name="Change Agreed").tap()
    page.keyboard.type("1.9")
    page.keyboard.press("Enter")
    why = card.get_by_text("Clothing", exact=True)
    expect(why.or_(card.get_by_text("settled by")).first).to_be_visible(timeout=SYNC_LIMIT_MS)
    if why.count():
        why.tap()
        card.get_by_role("button", name="Agree on 1.9 L").tap()

    expect(card).to_contain_text("settled by Ada Merin", timeout=SYNC_LIMIT_MS)
    linked(page)
    assert _live(admin, "agreed", RIDER)[-1]["body"]["drunk_l"] == 1.9
