"""Weigh room, sweat day and watch: what is entered goes in once, is shown to nobody, and is answered for by name."""

import re

from browser.conftest import PHONE
from playwright.sync_api import Page, expect
from support.pages import SYNC_LIMIT_MS, TURN, linked
from support.team import MATE, NEXT_STAGE, RIDER, STAGE


def _of(admin, kind: str, subject_id: str) -> list[dict]:
    admin.settled()
    found = [event for event in admin.events.values() if event["kind"] == kind and event["subject_id"] == subject_id]
    return sorted(found, key=lambda event: event["lamport"])


def test_a_soigneur_weighs_blind_on_a_phone_and_the_screen_goes_dark(team, open_as):
    _, admin = team
    page = open_as("soigneur", "weigh-room", PHONE)
    page.get_by_role("combobox", name="Stage").select_option(NEXT_STAGE)
    page.get_by_role("button", name="Morning").tap()
    page.get_by_role("button", name=admin.body(f"rider:{RIDER}")["name"]).tap()

    page.get_by_label("Body mass").fill("12")
    page.get_by_role("button", name="Keep").tap()
    expect(page.get_by_role("alert")).to_be_visible()
    page.get_by_label("Body mass").fill("66.35")
    page.get_by_role("group", name="Urine colour").get_by_text("5", exact=True).tap()
    page.get_by_label("Slept").fill("7.5")
    page.get_by_label("Feels ill").check()
    expect(page.get_by_text("Tell the team physician now.")).to_be_visible()
    page.get_by_role("button", name="Keep").tap()

    expect(page.get_by_text("is kept on this phone.")).to_be_visible()
    assert "66.35" not in page.locator("body").inner_text()
    mate = admin.body(f"rider:{MATE}")["name"]
    expect(page.get_by_role("button", name="Nothing to see")).to_contain_text(mate)
    page.get_by_role("button", name="Nothing to see").tap()
    expect(page.locator(".wr-rider")).to_contain_text(mate)
    expect(page.get_by_label("Body mass")).to_have_value("")
    page.get_by_label("Body mass").fill("70.1")
    page.evaluate(TURN, "hidden")
    page.evaluate(TURN, "visible")
    expect(page.get_by_label("Body mass")).to_be_hidden()
    expect(page.get_by_role("button", name="Nothing to see")).to_contain_text(mate)
    page.get_by_role("button", name="Nothing to see").tap()
    expect(page.get_by_label("Body mass")).to_have_value("70.1")
    linked(page)
    body = _of(admin, "morning_check", RIDER)[-1]["body"]
    assert body == {"mass_kg": 66.35, "sleep_h": 7.5, "urine_colour": 5, "is_ill": True}


def _weigh(page: Page, admin, place: str) -> None:
    """Choose the next stage, where on the day, and the mate."""
    page.get_by_role("combobox", name="Stage").select_option(NEXT_STAGE)
    page.get_by_role("button", name=place).click()
    page.get_by_role("button", name=admin.body(f"rider:{MATE}")["name"]).click()


def _keep(page: Page) -> None:
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("is kept on this phone.")).to_be_visible()
    linked(page)


def test_two_readings_apart_ask_for_a_third_and_the_middle_one_is_kept(team, open_as):
    _, admin = team
    page = open_as("physiologist", "weigh-room")
    _weigh(page, admin, "Before")

    page.get_by_label("Body mass").fill("69.1")
    page.get_by_label("Second reading").fill("69.2")
    expect(page.get_by_text("0.10 kg apart, within 0.1 kg: their mean, 69.15 kg, is kept.")).to_be_visible()
    page.get_by_label("Second reading").fill("69.6")
    expect(page.get_by_text("0.50 kg apart, more than 0.1 kg.")).to_be_visible()
    page.get_by_label("Third reading").fill("69.2")
    expect(page.get_by_text("the middle one, 69.20 kg, is kept.")).to_be_visible()
    _keep(page)

    body = _of(admin, "weighed", MATE)[-1]["body"]
    assert body == {"moment": "before", "mass_kg": 69.2, "readings_kg": [69.1, 69.6, 69.2]}


def test_bottles_on_the_scale_become_litres_that_came_back(team, open_as):
    _, admin = team
    page = open_as("physiologist", "weigh-room")
    _weigh(page, admin, "Bottle scale")

    page.get_by_label("Bottles and rest together").fill("812")
    page.get_by_label("One empty bottle").fill("71")
    page.get_by_label("Bottles on the scale").fill("2")
    expect(page.get_by_text("670 mL came back in them.")).to_be_visible()
    _keep(page)

    body = _of(admin, "came_back", MATE)[-1]["body"]
    assert body == {"left_l": 0.67, "how": "weighed", "gross_kg": 0.812, "tare_kg": 0.142}


def test_the_clock_and_the_meter_travel_with_the_sample(team, open_as):
    _, admin = team
    page = open_as("physiologist", "sweat-day/meter")
    page.get_by_label(re.compile("^Meter.s name")).fill("blue probe")
    page.get_by_label("Slope per decade").fill("49")
    page.get_by_role("button", name="Keep the calibration").click()
    expect(page.get_by_text(re.compile("Slope outside 52.62 mV")).first).to_be_visible()
    page.get_by_role("link", name="Squad and clocks").click()
    name = admin.body(f"rider:{MATE}")["name"]
    for what in ("Effort begins", "Collectors on", "Collectors off"):
        page.get_by_role("button", name=f"{what}: {admin.body(f'rider:{MATE}')['race_number']} {name}").click()
    page.reload()
    page.locator(".sx-clock").filter(has_text=name).get_by_role("link", name="Enter samples").click()

    expect(page.get_by_label("Started after")).to_have_value("0.0", timeout=SYNC_LIMIT_MS)
    page.get_by_label("Collected for").fill("20")
    page.get_by_label("Sweat sodium").first.fill("61")
    page.get_by_label("Sweat collected").first.fill("60")
    expect(page.get_by_text("first sweat reads high")).to_be_visible()
    page.get_by_role("button", name="Keep the samples").click()

    expect(page.get_by_text("One sample kept on this device.")).to_be_visible()
    linked(page)
    body = _of(admin, "sweat_sample", MATE)[-1]["body"]
    assert (body["analyser"], body["remarks"], body["started_after_min"]) == ("blue probe", ["CAL_SLOPE"], 0)
    page.get_by_role("link", name="Result sheet").click()
    expect(page.get_by_text("More salt than you lose does not help")).to_be_visible()


def test_drinking_above_losses_stands_first_and_is_answered_for_by_name(team, open_as):
    _, admin = team
    start_ms = admin.body(f"stage:{STAGE}")["start_at_ms"]

    def fact(kind, hours, **body):
        return {**admin.fact(kind, RIDER, body, stage_id=STAGE), "at_ms": start_ms + int(hours * 3_600_000)}

    admin.exchange(
        fact("weighed", -0.5, moment="before", mass_kg=66.0), fact("handed_up", 0, drink_id="d-water", volume_l=0.5),
        fact("weighed", 5, moment="after", mass_kg=66.9),
    )
    admin.settled()
    page = open_as("doctor", "watch", name="Dr Wen Arlo")
    first = page.locator(".sx-concern").first
    expect(first).to_contain_text("More was drunk than lost.", timeout=SYNC_LIMIT_MS)
    expect(first).to_contain_text("Tell the team physician.")
    expect(first).to_contain_text("No more drinking until he passes water")

    first.get_by_label("What was done").fill("seen, clear")
    first.get_by_role("button", name="Answer for").click()

    answered = page.get_by_role("region", name="Answered for")
    expect(answered).to_contain_text("Dr Wen Arlo")
    expect(answered).to_contain_text("seen, clear")
    linked(page)
    assert _of(admin, "acknowledged", RIDER)[-1]["body"] == {"code": "drank_above_losses", "note": "seen, clear"}
