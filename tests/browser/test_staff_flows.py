"""Each flow of the desk at 1280 x 800 and on a phone, and its tables by keyboard alone."""

import re

import pytest
from playwright.sync_api import Page, expect
from support.pages import SYNC_LIMIT_MS
from support.team import MATE, NEXT_STAGE, RIDER, STAGE

from seed_demo.courses import gpx_text
from seed_demo.race import stages
from seed_demo.weather import forecast_csv

SIZES = pytest.mark.parametrize("size", ["desk", "phone"])


@pytest.fixture(scope="module")
def team(own_team):
    """Settle a stage on which one rider drank above his losses, and the other did not."""
    _, admin = own_team
    start_ms = admin.body(f"stage:{STAGE}")["start_at_ms"]
    for rider_id, change_kg in ((RIDER, 0.5), (MATE, -1.2)):
        mass_kg = admin.body(f"rider_body:{rider_id}")["mass_kg"]
        admin.exchange(*(
            {**admin.fact(kind, rider_id, body, stage_id=STAGE), "at_ms": start_ms + int(hours * 3_600_000)}
            for kind, hours, body in (
                ("morning_check", -4, {"mass_kg": mass_kg, "urine_colour": 3}),
                ("weighed", -0.5, {"moment": "before", "mass_kg": mass_kg}),
                ("handed_up", 0, {"drink_id": "d-standard", "volume_l": 0.5, "n_bottles": 6}),
                ("weighed", 5, {"moment": "after", "mass_kg": mass_kg + change_kg}),
                ("agreed", 6, {"drunk_l": 2.8, "proposed_l": 3.0, "reason": "missed_bottle"}),
            )
        ))
    admin.settled()
    return own_team


def _open(page: Page, team, route: str, heading: str) -> Page:
    page.goto(f"{team[0].base_url}/#/{route}")
    # Loaded anew, so that "Linked" says it has what other devices kept.
    page.reload()
    expect(page.get_by_role("heading", level=1).filter(has_text=heading)).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    return page


def _kept(page: Page, admin) -> None:
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.settled()


def _facts(admin, kind: str) -> list[dict]:
    return sorted((e for e in admin.events.values() if e["kind"] == kind), key=lambda event: event["lamport"])


@SIZES
def test_a_test_is_booked_collected_and_weighed(team, glass, size):
    _, admin = team
    page = _open(glass[size], team, "sweat-day/squad", "Sweat day")
    page.get_by_label("Day", exact=True).fill("2026-07-13")
    page.get_by_label("Where").fill(f"hotel, {size}")
    page.get_by_role("button", name="Book", exact=True).click()
    expect(page.get_by_text(f"hotel, {size}")).to_be_visible()
    page.goto(f"{team[0].base_url}/#/sweat-day/test/{MATE}")
    for arm, sodium in enumerate(("58", "61")):
        page.get_by_label("Sweat sodium").nth(arm).fill(sodium)
        page.get_by_label("Sweat collected").nth(arm).fill("60")
    page.get_by_role("button", name="Keep the samples").click()
    expect(page.get_by_text("2 samples kept on this device.")).to_be_visible()
    typed = {"Mass before": "58.6", "Mass after": "57.3", "Drunk": "0.4", "Duration": "1", "Mean power": "210",
             "Air temperature": "27", "Humidity": "45", "Air speed over the rider": "3"}
    for label, text in typed.items():
        page.get_by_label(label, exact=True).fill(text)
    page.get_by_role("button", name="Keep the ride").click()
    expect(page.get_by_role("form", name="Weighed ride").get_by_role("status")).to_contain_text("kept")

    _kept(page, admin)
    assert _facts(admin, "collection_booked")[-1]["body"]["place"] == f"hotel, {size}"
    assert [e["body"]["sodium_mmol_per_l"] for e in _facts(admin, "sweat_sample")[-2:]] == [58.0, 61.0]
    ride = _facts(admin, "weighed_ride")[-1]["body"]
    assert (ride["mass_before_kg"], ride["duration_h"], ride["relative_humidity_frac"]) == (58.6, 1.0, 0.45)


@SIZES
def test_a_stage_of_the_race_book_is_written_by_hand_and_from_files(team, glass, size):
    _, admin = team
    card = stages()[1]
    page = _open(glass[size], team, f"race-book/{NEXT_STAGE}", "Stage 2")
    page.get_by_label("Note").fill(f"crosswind after km 90, {size}")
    page.get_by_role("button", name="Add a feed point").click()
    feed = page.get_by_role("group", name=re.compile("^Feed point")).last
    feed.get_by_label("Name").fill(f"Bridge {size}")
    feed.get_by_label("Kilometre").fill("9000")
    page.get_by_role("button", name="Save the stage").click()
    expect(page.get_by_role("form", name="Stage").get_by_role("alert").first).to_be_visible()
    feed.get_by_label("Kilometre").fill("101" if size == "desk" else "103")
    page.get_by_role("button", name="Save the stage").click()
    expect(page.get_by_text("Saved. Plans follow").first).to_be_visible(timeout=SYNC_LIMIT_MS)

    page.get_by_label("GPX file").set_input_files(
        {"name": "stage.gpx", "mimeType": "application/gpx+xml", "buffer": gpx_text(card).encode()})
    expect(page.get_by_text("Course taken in").first).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_label("Paste a table").fill(forecast_csv(card, "early"))
    page.get_by_role("button", name="Read the table").click()
    expect(page.get_by_text("Forecast taken in").first).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_text("Or a few figures by hand").click()
    page.get_by_label("At the start", exact=True).fill("21")
    page.get_by_label("Warmest").fill("33")
    page.get_by_role("button", name="Make hourly rows of it").click()
    forecast = page.get_by_role("region", name="Weather forecast")
    expect(forecast).to_contain_text("33 °C", timeout=SYNC_LIMIT_MS)
    roles = page.get_by_role("region", name="Roles on this stage")
    roles.get_by_role("combobox").first.select_option("breakaway")
    expect(roles.get_by_role("status")).to_contain_text("Saved", timeout=SYNC_LIMIT_MS)

    _kept(page, admin)
    stage = admin.body(f"stage:{NEXT_STAGE}")
    assert stage["note"] == f"crosswind after km 90, {size}"
    assert f"Bridge {size}" in {feed["name"] for feed in stage["feed_points"]}
    assert max(row["air_temperature_c"] for row in stage["forecast"]) == 33.0
    assert stage["race_role_by_rider"][RIDER] == "breakaway"
    assert len(stage["course"]) >= 300


@SIZES
def test_a_plan_is_asked_what_if_and_published(team, glass, size):
    _, admin = team
    was = admin.body(f"stage_plan:{MATE}:{NEXT_STAGE}")
    page = _open(glass[size], team, f"plans/{NEXT_STAGE}/{MATE}", "Plans")
    what_if = page.get_by_role("region", name="What if")
    what_if.get_by_role("slider", name="Heat").focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    said = what_if.get_by_text("L lost instead of")
    expect(said).to_be_visible(timeout=SYNC_LIMIT_MS)
    warm_l = _litres(said)
    what_if.get_by_role("slider", name="Bottles missed").focus()
    page.keyboard.press("ArrowRight")
    expect(what_if.get_by_text(re.compile("of body mass short"))).to_be_visible(timeout=SYNC_LIMIT_MS)
    assert warm_l[1] > warm_l[3], "four degrees more must cost more than the day as forecast"
    for twin in page.get_by_text("The same as a table").all()[:2]:
        twin.click()
    expect(page.get_by_role("columnheader", name="low").first.or_(page.get_by_role("columnheader", name="from").first)
           ).to_be_visible()

    page.get_by_role("button", name="Publish stage 2").click()
    expect(page.locator(".sx-publish-said")).not_to_be_empty(timeout=SYNC_LIMIT_MS)
    _kept(page, admin)
    now = admin.body(f"stage_plan:{MATE}:{NEXT_STAGE}")
    assert now["status"] == "published"
    assert now["plan_version"] >= was["plan_version"]


def _litres(said) -> list[float]:
    return [float(figure) for figure in re.findall(r"\d+\.\d", said.inner_text())[:4]]


@SIZES
def test_the_catalogue_the_shelf_and_the_tastes_are_kept(team, glass, size):
    _, admin = team
    page = _open(glass[size], team, "drinks/drink/new", "New drink")
    page.get_by_label("Name", exact=True).fill(f"Evening mix {size}")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("One to twelve signs")).to_be_visible()
    page.get_by_label("Short name").fill(f"EV{size}")
    page.get_by_role("button", name="Add a powder or salt").click()
    page.get_by_label("Powder or salt").select_option(label="Table salt")
    page.get_by_label("Amount per litre").or_(page.get_by_role("listitem").get_by_role("textbox")).first.fill("2")
    expect(page.get_by_role("definition").filter(has_text="787")).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("link", name=f"Evening mix {size}").or_(page.get_by_role("status")).first
           ).to_be_visible(timeout=SYNC_LIMIT_MS)
    _kept(page, admin)
    made = [d["body"] for d in admin.documents.values() if d["type"] == "drink" and d["body"]["name"].endswith(size)]
    # Sodium chloride by its formula: 22.98977 / (22.98977 + 35.453) of its mass is sodium.
    assert made[0]["sodium_mg_per_l"] == pytest.approx(2000 * 22.98977 / 58.44277, rel=1e-3)

    page.goto(f"{team[0].base_url}/#/drinks/stock")
    row = page.get_by_role("row").filter(has_text="Table salt")
    row.get_by_role("textbox").fill("812" if size == "desk" else "911")
    row.get_by_role("button", name="Counted").click()
    expect(row.get_by_role("status")).to_contain_text("Kept")
    page.goto(f"{team[0].base_url}/#/drinks/tastes")
    page.get_by_label("Ham roll").select_option("likes" if size == "desk" else "cannot")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Saved. Plans that held it")).to_be_visible(timeout=SYNC_LIMIT_MS)
    _kept(page, admin)
    assert _facts(admin, "stock_counted")[-1]["body"]["n_amount"] == (812 if size == "desk" else 911)
    palate = admin.body(f"rider_palate:{RIDER}")
    assert ("f-ham-roll" in palate.get("cannot", [])) == (size == "phone")


@SIZES
def test_three_weeks_the_audit_and_the_rider_say_the_same_in_marks_words_and_tables(team, glass, size):
    _, admin = team
    page = _open(glass[size], team, "three-weeks", "Three weeks")
    mate, rider = admin.body(f"rider:{MATE}")["name"], admin.body(f"rider:{RIDER}")["name"]
    expect(page.get_by_role("img", name=re.compile("^wet side")).first).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(page.get_by_text("Noted 1, settled 1, in lane 1")).to_be_visible()
    page.get_by_role("radio", name="Marks").focus()
    page.keyboard.press("ArrowRight")
    row = page.get_by_role("row").filter(has_text=mate).first
    expect(row).to_contain_text("2.8")
    page.get_by_role("radio", name="Figures").focus()
    page.keyboard.press("ArrowLeft")
    audit = page.get_by_role("region", name="How good were we?").first
    expect(audit.get_by_role("row").filter(has_text="All stages")).to_contain_text("aim 80 %")
    expect(audit.get_by_role("row").filter(has_text=rider)).to_contain_text("too high")

    page.goto(f"{team[0].base_url}/#/rider/{MATE}")
    expect(page.get_by_role("img", name=re.compile("1 of 1 stages"))).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_text("The same as a table").first.click()
    expect(page.get_by_role("table").first).to_contain_text("1")
    page.get_by_text("Why this number?").first.click()
    expect(page.locator(".why[open]").first).to_contain_text("Source")


@SIZES
def test_what_harms_is_answered_for_by_name(team, glass, size):
    _, admin = team
    page = _open(glass[size], team, "watch", "Watch")
    first = page.get_by_role("listitem").filter(has=page.get_by_role("button", name="answer for")).first
    expect(first).to_contain_text("More was drunk than lost", timeout=SYNC_LIMIT_MS)
    first.get_by_label("What was done").fill(f"called the physician, {size}")
    first.get_by_role("button", name="answer for").click()

    expect(page.get_by_role("region", name="Answered for")).to_contain_text(f"called the physician, {size}")
    _kept(page, admin)
    assert _facts(admin, "acknowledged")[-1]["body"]["note"] == f"called the physician, {size}"
    assert _facts(admin, "acknowledged")[-1]["subject_id"] == RIDER


@SIZES
def test_season_says_whose_test_is_due_and_leads_to_the_rider_by_keyboard(team, glass, size):
    _, admin = team
    page = _open(glass[size], team, "season", "Season")
    row = page.get_by_role("row").filter(has_text=admin.body(f"rider:{MATE}")["name"])
    expect(row).to_contain_text("hot day")
    row.get_by_role("link").focus()
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", level=1)).to_contain_text(admin.body(f"rider:{MATE}")["name"])


TABLES = ("three-weeks", "season", "race-book", "drinks")


@pytest.mark.parametrize("route", TABLES)
def test_every_table_is_reached_and_scrolled_by_keyboard_alone(team, glass, route):
    page = glass["desk"]
    page.goto(f"{team[0].base_url}/#/{route}")
    table = page.locator("main .sx-scroll").first
    expect(table).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.evaluate("document.activeElement?.blur?.(); void 0")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.querySelector('main .sx-scroll').contains(document.activeElement)"):
            break

    assert page.evaluate("document.querySelector('main .sx-scroll').contains(document.activeElement)")
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline != "none"


@SIZES
def test_the_desk_leads_to_every_place(team, glass, size):
    page = _open(glass[size], team, "desk", "Desk")
    places = page.locator(".sx-places").first.get_by_role("link")
    expect(places.first).to_be_visible()
    hrefs = [link.get_attribute("href") for link in places.all()]
    assert len(hrefs) >= 10
    for href in hrefs:
        page.goto(f"{team[0].base_url}/{href}")
        expect(page.get_by_role("heading", level=1).first).to_be_visible(timeout=SYNC_LIMIT_MS)
        expect(page.get_by_text("There is no such page here.")).to_have_count(0)
