"""Closed stretches, opened drinks and a rider's own limits: entered on a desk or a phone, and in the next plan."""

import pytest
from browser.conftest import DESK, PHONE
from playwright.sync_api import Page, expect
from support.pages import SYNC_LIMIT_MS
from support.team import NEXT_STAGE, RIDER

SIZES = pytest.mark.parametrize("options", [DESK, PHONE], ids=["desk", "phone"])


@pytest.fixture
def team(own_team):
    return own_team


def _fits(page: Page) -> bool:
    return page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


@SIZES
def test_a_closed_stretch_is_refused_upside_down_and_kept_right(team, open_as, options):
    _, admin = team
    page = open_as("physiologist", f"race-book/{NEXT_STAGE}", options)
    part = page.get_by_role("region", name="Closed stretches")
    expect(part).to_be_visible(timeout=SYNC_LIMIT_MS)
    while part.get_by_role("button", name="Remove stretch 1").is_visible():
        part.get_by_role("button", name="Remove stretch 1").click()
    part.get_by_role("button", name="Add a stretch").click()
    part.get_by_label("Stretch 1, from km").fill("60")
    part.get_by_label("Stretch 1, to km").fill("50")
    part.get_by_role("button", name="Keep the closed stretches").click()
    expect(part.get_by_role("alert")).to_contain_text("the second larger than the first")

    part.get_by_label("Stretch 1, to km").fill("72.5")
    part.get_by_label("What the jury said").fill("Descent closed")
    part.get_by_role("button", name="Keep the closed stretches").click()

    expect(part.get_by_role("status")).to_be_visible(timeout=SYNC_LIMIT_MS)
    assert _fits(page)
    admin.settled()
    assert admin.body(f"stage:{NEXT_STAGE}")["feeding"] == {"closed": [[60, 72.5]], "note": "Descent closed"}


@SIZES
def test_a_strong_drink_is_opened_for_one_rider_and_closed_again(team, open_as, options):
    _, admin = team
    name = admin.body(f"rider:{RIDER}")["name"]
    page = open_as("physiologist", f"race-book/{NEXT_STAGE}", options)
    part = page.get_by_role("region", name="Strong drinks opened")
    mine = part.get_by_role("group", name=name)
    expect(mine).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(part.get_by_text("Ask the team physician first.")).to_be_visible()

    mine.get_by_role("checkbox", name="Carbohydrate mix").check()

    expect(part.get_by_role("status")).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.settled()
    assert admin.body(f"stage:{NEXT_STAGE}")["opened_drinks_by_rider"] == {RIDER: ["d-carbo"]}
    assert _fits(page)
    mine.get_by_role("checkbox", name="Carbohydrate mix").uncheck()
    expect(mine.get_by_role("checkbox", name="Carbohydrate mix")).not_to_be_checked(timeout=SYNC_LIMIT_MS)


@SIZES
def test_gut_training_is_the_physiologists_and_sodium_the_doctors(team, open_as, options):
    _, admin = team
    page = open_as("physiologist", f"rider/{RIDER}", options)
    form = page.get_by_role("form", name="What a plan may give")
    expect(form.get_by_label("Sodium released")).to_be_disabled(timeout=SYNC_LIMIT_MS)
    form.get_by_label("Tested drinking").fill("0.9")
    form.get_by_label("Practice at 90 g/h or more is on record").check()
    form.get_by_role("button", name="Keep these limits").click()
    expect(form.get_by_label("Tested drinking")).to_have_value("0.9", timeout=SYNC_LIMIT_MS)
    expect(page.get_by_text("Kept. Plans follow in a moment.")).to_be_visible(timeout=SYNC_LIMIT_MS)
    assert _fits(page)

    surgery = open_as("doctor", f"rider/{RIDER}", options)
    form = surgery.get_by_role("form", name="What a plan may give")
    expect(form.get_by_label("Tested drinking")).to_be_disabled(timeout=SYNC_LIMIT_MS)
    form.get_by_label("Sodium released").fill("1900")
    expect(form.get_by_role("alert")).to_be_visible()
    form.get_by_label("Sodium released").fill("1300")
    form.get_by_role("button", name="Keep these limits").click()
    expect(surgery.get_by_text("Kept. Plans follow in a moment.")).to_be_visible(timeout=SYNC_LIMIT_MS)

    admin.settled()
    body = admin.body(f"rider_body:{RIDER}")
    assert (body["max_intake_l_per_h"], body["is_gut_trained"], body["released_sodium_mg_per_h"]) == (0.9, True, 1300)


@SIZES
def test_goals_are_weighed_inside_bounds_and_go_back_to_the_defaults(team, open_as, options):
    _, admin = team
    page = open_as("physiologist", "drinks/goals", options)
    form = page.get_by_role("form", name="Goals")
    expect(form.get_by_label("Water on target")).to_have_value("1", timeout=SYNC_LIMIT_MS)
    form.get_by_label("Water on target").fill("9")
    form.get_by_role("button", name="Save").click()
    expect(form.get_by_role("alert")).to_be_visible()

    form.get_by_label("Water on target").fill("2.5")
    form.get_by_role("button", name="Save").click()

    expect(form.get_by_text("Kept. Plans that change say so.")).to_be_visible(timeout=SYNC_LIMIT_MS)
    assert _fits(page)
    admin.settled()
    assert admin.body("plan_goals:goals")["water_factor"] == 2.5
    form.get_by_role("button", name="Back to the defaults").click()
    expect(form.get_by_label("Water on target")).to_have_value("1")
    expect(form.get_by_text("Kept. Plans that change say so.")).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.settled()
    assert admin.body("plan_goals:goals")["water_factor"] == 1.0
