"""Staff at a desk: settle against the scales, see what it changed and why, and keep what was typed after a refusal."""

import math

import pytest
from browser.conftest import DESK
from playwright.sync_api import Page, expect
from support.pages import SYNC_LIMIT_MS, sign_in
from support.team import MATE, NEXT_STAGE, STAGE, staff_link


@pytest.fixture(scope="module")
def team(own_team):
    """Settle a team nobody else has noted anything of: the litres below are all there are."""
    return own_team


@pytest.fixture
def desk(browser, team):
    server, admin = team
    context = browser.new_context(**DESK)
    page = context.new_page()
    sign_in(page, staff_link(admin, server, "physiologist", "Ada Merin"))
    yield page
    context.close()


def _day(admin):
    """Enter one rider's stage: weighed, handed up, drunk, one bottle back, weighed again."""
    start_ms = admin.body(f"stage:{STAGE}")["start_at_ms"]

    def fact(kind, hours, **body):
        return {**admin.fact(kind, MATE, body, stage_id=STAGE), "at_ms": start_ms + int(hours * 3_600_000)}

    mass_kg = admin.body(f"rider_body:{MATE}")["mass_kg"]
    facts = [
        fact("weighed", -0.5, moment="before", mass_kg=mass_kg),
        fact("handed_up", 0, drink_id="d-standard", volume_l=0.5, n_bottles=2),
        fact("handed_up", 2, drink_id="d-water", volume_l=0.5, n_bottles=2),
        fact("drank", 3, how="count", volume_l=1.8, drink_id="d-standard"),
        fact("came_back", 4, how="weighed", left_l=0.2, drink_id="d-water"),
        fact("weighed", 5, moment="after", mass_kg=mass_kg - 2.4, food_kg=0.3, urine_l=0.2),
    ]
    assert {verdict["status"] for verdict in admin.exchange(*facts)} <= {"ok"}
    admin.settled()


def test_settling_moves_the_factor_the_evening_and_tomorrow_and_says_why(team, desk: Page):
    server, admin = team
    _day(admin)
    before = admin.body(f"profile:{MATE}")
    desk.goto(f"{server.base_url}/#/settle")
    desk.get_by_role("combobox", name="Stage").select_option(STAGE)
    row = desk.get_by_role("row").filter(has_text=admin.body(f"rider:{MATE}")["name"])
    expect(row).to_contain_text("proposed", timeout=SYNC_LIMIT_MS)

    row.get_by_role("button", name="Agree").click()
    expect(row).to_contain_text("settled", timeout=SYNC_LIMIT_MS)
    expect(desk.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.settled()
    settlement = admin.body(f"settlement:{MATE}:{STAGE}")
    profile = admin.body(f"profile:{MATE}")
    tomorrow = admin.body(f"stage_plan:{MATE}:{NEXT_STAGE}")
    evening = admin.body(f"evening_drink:{MATE}:{STAGE}")

    assert settlement["state"] == "settled"
    assert settlement["sweat_loss_l"] == pytest.approx(2.4 + 1.8 + 0.3 - 0.2 - 0.2e-3 * _kcal(admin), abs=0.15)
    assert profile["sweat_factor_median"] != before["sweat_factor_median"]
    assert profile["n_weighed"] == before["n_weighed"] + 1
    assert evening["deficit_l"] > 0
    assert "sweat_factor" in {reason["code"] for reason in tomorrow["changed"]}

    desk.goto(f"{server.base_url}/#/plans/{NEXT_STAGE}/{MATE}")
    expect(desk.get_by_text("What changed, and why")).to_be_visible(timeout=SYNC_LIMIT_MS)


def _kcal(admin):
    return admin.body(f"stage_forecast:{MATE}:{STAGE}")["energy_kcal"]


def test_an_impossible_sample_is_refused_by_name_and_stays_typed(team, desk: Page):
    server, admin = team
    n_known = sum(event["kind"] == "sweat_sample" for event in admin.events.values())
    desk.goto(f"{server.base_url}/#/sweat-day")
    sodium = desk.get_by_label("Sweat sodium").first

    sodium.fill("300")
    desk.get_by_role("button", name="Keep the samples").click()

    expect(desk.get_by_text("Sweat sodium: 300 mmol/L is above the limit of 140 mmol/L.")).to_be_visible()
    expect(sodium).to_have_value("300")
    admin.settled()
    assert sum(event["kind"] == "sweat_sample" for event in admin.events.values()) == n_known


def test_a_forecast_without_a_time_zone_is_refused_by_name_and_stays_typed(team, desk: Page):
    server, admin = team
    table = "time,temp_c,rh_pct,wind_ms,cloud_pct\n2026-07-04T12:00,24,50,2,20\n2026-07-04T13:00,25,50,2,20\n"
    kept = admin.body(f"stage:{STAGE}")["forecast"]
    desk.goto(f"{server.base_url}/#/race-book/{STAGE}")
    box = desk.get_by_label("Paste a table")

    box.fill(table)
    desk.get_by_role("button", name="Read the table").click()

    expect(desk.get_by_role("alert").filter(has_text="offset")).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(box).to_have_value(table)
    admin.settled()
    assert admin.body(f"stage:{STAGE}")["forecast"] == kept


def test_a_coach_reads_bottles_and_losses_in_half_litres_and_no_target(team, browser):
    server, admin = team
    forecast = admin.body(f"stage_forecast:{MATE}:{NEXT_STAGE}")
    context = browser.new_context(**DESK)
    page = context.new_page()
    sign_in(page, staff_link(admin, server, "coach", "Nils Okerby"))

    page.goto(f"{server.base_url}/#/plans/{NEXT_STAGE}/{MATE}")
    losses = page.locator(".sx-figures div").filter(has_text="Loss expected")
    expect(losses).to_be_visible(timeout=SYNC_LIMIT_MS)
    low, high = math.floor(2 * forecast["sweat_q10_l"]) / 2, math.ceil(2 * forecast["sweat_q90_l"]) / 2
    expect(losses).to_contain_text(f"{low:.1f}")
    expect(losses).to_contain_text(f"{high:.1f}")
    expect(page.get_by_role("table", name="Feed points")).to_be_visible()
    expect(page.locator(".sx-figures")).not_to_contain_text("aim")
    context.close()
