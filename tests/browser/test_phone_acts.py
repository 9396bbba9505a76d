"""Musettes, bottles a team-mate fetches, the camera, one's own devices, and questions that never block."""

import re

import pytest
from browser.conftest import ARGS, CHROMIUM, PHONE
from browser.test_screens import AXE, _violations
from playwright.sync_api import expect
from support.camera import film_of_code
from support.pages import SYNC_LIMIT_MS, Phone, sign_in
from support.team import MATE, NEXT_STAGE, RIDER, STAGE, rider_link, staff_link

from seed_demo.squad import RIDERS

NUMBERS = {card.id: card.race_number for card in RIDERS}


@pytest.fixture
def glass(browser):
    contexts = []

    def launch(**options):
        contexts.append(browser.new_context(**{**PHONE, **options}))
        return contexts[-1].new_page()

    yield launch
    for context in contexts:
        context.close()


def _soigneur(glass, own_team, name="Ana Ruys"):
    server, admin = own_team
    page = glass()
    sign_in(page, staff_link(admin, server, "soigneur", name))
    page.goto(f"{server.base_url}/#/hand-up")
    page.get_by_label("Stage").first.select_option(STAGE)
    return page


def _tile(page, rider_id):
    return page.locator("button.tile").filter(has_text=str(NUMBERS[rider_id]))


def _handed(admin, rider_id, page):
    """Sum the bottles handed to a rider that still count."""
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.settled()
    voided = {event["ref"] for event in admin.events.values() if event["kind"] == "void"}
    found: dict[tuple[str, str | None], int] = {}
    for event in admin.events.values():
        if event["kind"] != "handed_up" or event["subject_id"] != rider_id or event["id"] in voided:
            continue
        key = (event["body"]["drink_id"], event["body"].get("carried_by"))
        found[key] = found.get(key, 0) + event["body"].get("n_bottles", 1)
    return found


def test_a_musette_is_what_the_plan_packed_for_that_rider_here(own_team, glass):
    _, admin = own_team
    page = _soigneur(glass, own_team)
    before = _handed(admin, RIDER, page)
    steps = admin.body(f"bottle_sheet:{RIDER}:{STAGE}")["steps"]
    step = next(step for step in steps if step["bottles"] and step["feed_id"])
    page.get_by_label("Where").select_option(step["feed_id"])
    page.get_by_role("button", name="Musette", exact=True).click()
    _tile(page, RIDER).click()
    expect(page.get_by_role("button", name=f"Take back Musette → {NUMBERS[RIDER]}")).to_be_visible()

    given = {(drink, None): n for drink, n in step["bottles"].items() if n}
    assert _handed(admin, RIDER, page) == {**before, **{key: before.get(key, 0) + n for key, n in given.items()}}

    page.get_by_role("button", name=f"Take back Musette → {NUMBERS[RIDER]}").click()
    expect(page.get_by_role("button", name=re.compile("^Take back"))).to_have_count(0)
    assert _handed(admin, RIDER, page) == before


def test_bottles_a_team_mate_fetches_are_shared_out_later_one_by_one(own_team, glass):
    _, admin = own_team
    page = _soigneur(glass, own_team, "Car 2")
    base = {rider: _handed(admin, rider, page) for rider in (RIDER, MATE)}
    brush = page.locator("button.brush").first
    brush.click()
    page.get_by_label("Carried by").select_option(MATE)
    for n in (1, 2, 3):
        _tile(page, MATE).click()
        expect(_tile(page, MATE)).to_contain_text(f"carries {n} bottle")
    _tile(page, RIDER).click()
    expect(_tile(page, MATE)).to_contain_text("carries 2 bottles")
    page.reload()
    expect(_tile(page, MATE)).to_contain_text("carries 2 bottles")

    (drink, _), = [key for key in _handed(admin, MATE, page) if key not in base[MATE]]
    assert _handed(admin, MATE, page) == {**base[MATE], (drink, MATE): 2}
    assert _handed(admin, RIDER, page) == {**base[RIDER], (drink, MATE): base[RIDER].get((drink, MATE), 0) + 1}

    page.get_by_label("Carried by").select_option(MATE)
    brush.click()
    _tile(page, RIDER).click()
    expect(_tile(page, MATE)).to_contain_text("carries 1 bottle")
    page.get_by_role("button", name=re.compile(f"^Take back .* → {NUMBERS[RIDER]} from {NUMBERS[MATE]}")).click()
    expect(_tile(page, MATE)).to_contain_text("carries 2 bottles")
    assert _handed(admin, RIDER, page) == {**base[RIDER], (drink, MATE): base[RIDER].get((drink, MATE), 0) + 1}


def _labelled(admin):
    sheets = [doc for key, doc in admin.documents.items() if key.startswith("prep_sheet:")]
    bodies = [sheet["body"] for sheet in sheets if sheet["body"]["stage_id"] == STAGE]
    bottles = [b for body in bodies for place in body["places"] for b in place["bottles"]]
    return next(bottle for bottle in bottles if bottle.get("rider_id"))


def test_a_label_before_the_camera_opens_its_rider(own_team, browser_type, tmp_path):
    server, admin = own_team
    admin.settled()
    bottle = _labelled(admin)
    film_of_code(bottle["code"], tmp_path / "label.y4m")
    made_camera = [
        "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={tmp_path / 'label.y4m'}",
    ]
    browser = browser_type.launch(executable_path=CHROMIUM, args=[*ARGS, *made_camera])
    try:
        page = browser.new_context(**{**PHONE, "permissions": ["camera"]}).new_page()
        sign_in(page, staff_link(admin, server, "soigneur", "Ana Ruys"))
        page.goto(f"{server.base_url}/#/returns")
        page.get_by_label("Stage").first.select_option(STAGE)
        page.get_by_role("button", name="Scan").click()

        heading = page.get_by_role("heading", level=2, name=re.compile(f"^{NUMBERS[bottle['rider_id']]} "))
        expect(heading).to_be_visible(timeout=SYNC_LIMIT_MS)
        expect(page.locator("video")).to_have_count(0)
    finally:
        browser.close()


def test_without_a_camera_the_number_on_the_label_does_it(own_team, glass):
    server, admin = own_team
    admin.settled()
    bottle = _labelled(admin)
    page = _soigneur(glass, own_team, "Bo Ruys")
    page.goto(f"{server.base_url}/#/returns")
    page.get_by_role("button", name="Scan").click()
    expect(page.get_by_text("No camera")).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_role("textbox", name="Number on the bottle").fill(str(bottle["number"]))
    page.get_by_role("button", name="Find").click()

    name = re.compile(f"^{NUMBERS[bottle['rider_id']]} ")
    expect(page.get_by_role("heading", level=2, name=name)).to_be_visible()


def test_a_lost_phone_is_signed_out_from_another_one_after_a_second_question(own_team, glass):
    server, admin = own_team
    pages = []
    for device in ("old phone", "new phone"):
        page = glass()
        page.goto(rider_link(admin, server))
        page.get_by_role("textbox", name="Name of this device").fill(device)
        page.get_by_role("button", name="Join").click()
        Phone(page).expect_road()
        Phone(page).expect_linked()
        pages.append(page)
    lost, kept = pages
    kept.goto(f"{server.base_url}/#/me")
    devices = kept.get_by_role("region", name="My devices")
    expect(devices.get_by_text("this one, in your hand")).to_have_count(1)
    expect(devices.get_by_role("button", name="Sign out new phone")).to_have_count(0)
    devices.get_by_role("button", name="Sign out old phone").click()
    devices.get_by_role("button", name="Leave it").click()
    devices.get_by_role("button", name="Sign out old phone").click()
    devices.get_by_role("button", name="Yes, sign out old phone").click()
    expect(devices.get_by_text("old phone is signed out.")).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(devices.get_by_role("button", name="Sign out old phone")).to_have_count(0)

    lost.reload()
    expect(lost.get_by_text("This phone needs a new invitation.")).to_be_visible(timeout=SYNC_LIMIT_MS)


def test_the_bus_asks_once_for_alerts_and_the_browser_only_on_a_tap(own_team, glass):
    server, admin = own_team
    page = glass()
    page.add_init_script("""
      window.asked = 0;
      Object.defineProperty(Notification, "permission", { get: () => "default" });
      Notification.requestPermission = async () => { window.asked += 1; return "denied"; };
    """)
    sign_in(page, rider_link(admin, server))
    page.goto(f"{server.base_url}/#/bus")
    question = page.get_by_role("complementary", name="Alerts")
    expect(question).to_be_visible()
    assert page.evaluate("window.asked") == 0
    page.evaluate(OFFER)
    expect(page.get_by_role("complementary", name="On the home screen")).to_be_visible()
    page.evaluate(AXE + ";void 0")
    assert _violations(page) == []
    question.get_by_role("button", name="Remind me").click()
    expect(page.get_by_text("This phone blocks alerts.")).to_be_visible()
    assert page.evaluate("window.asked") == 1

    page.reload()
    expect(page.get_by_role("heading", name="At the bus")).to_be_visible()
    expect(page.get_by_role("heading", name="Noted")).to_be_visible()
    expect(question).to_have_count(0)


OFFER = """() => {
  const offer = new Event("beforeinstallprompt", { cancelable: true });
  window.prompted = 0;
  offer.prompt = async () => { window.prompted += 1; };
  return dispatchEvent(offer);
}"""


@pytest.mark.parametrize(("answer", "n_prompts"), [("Put it there", 1), ("Not now", 0)])
def test_the_home_screen_is_offered_once_and_never_on_the_road(own_team, glass, answer, n_prompts):
    server, admin = own_team
    page = glass()
    sign_in(page, rider_link(admin, server))
    hint = page.get_by_role("complementary", name="On the home screen")
    assert page.evaluate(OFFER) is False, "the browser's own bar is held back"
    expect(page.locator(".band").first).to_be_visible()
    expect(hint).to_have_count(0)
    page.goto(f"{server.base_url}/#/bus")
    hint.get_by_role("button", name=answer).click()
    expect(hint).to_have_count(0)
    assert page.evaluate("window.prompted") == n_prompts

    page.reload()
    expect(page.get_by_role("heading", name="At the bus")).to_be_visible()
    page.evaluate(OFFER)
    expect(page.get_by_role("heading", name="Noted")).to_be_visible()
    expect(hint).to_have_count(0)


IPHONE = "Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Mobile/15E148"


def test_an_iphones_tab_says_how_to_keep_the_book(own_team, glass):
    server, admin = own_team
    page = glass(user_agent=IPHONE)
    sign_in(page, rider_link(admin, server))
    page.goto(f"{server.base_url}/#/bus")

    expect(page.get_by_text("“Add to Home Screen”")).to_be_visible()
    hint = page.get_by_role("complementary", name="On the home screen")
    hint.get_by_role("button", name="Not now").click()
    expect(page.get_by_text("“Add to Home Screen”")).to_have_count(0)


def _badges(page):
    """Collect what the page tells the platform to show on its icon."""
    told: list[int] = []

    def tell(n: int) -> None:
        told.append(n)

    page.expose_function("toldBadge", tell)
    page.add_init_script("navigator.setAppBadge = async (n) => { window.toldBadge(n); };")
    return told


def test_the_icons_badge_counts_what_waits_to_be_settled_and_nothing_else(own_team, glass):
    server, admin = own_team
    facts = [
        admin.fact("weighed", RIDER, {"moment": moment, "mass_kg": mass_kg}, stage_id=STAGE)
        for moment, mass_kg in (("before", 69.1), ("after", 67.6))
    ]
    assert {verdict["status"] for verdict in admin.exchange(*facts)} == {"ok"}
    admin.settled()
    n_proposed = sum(
        doc["body"].get("state") == "proposed"
        for key, doc in admin.documents.items() if key.startswith("settlement:") and doc["body"]
    )
    assert n_proposed >= 1
    page = glass()
    told = _badges(page)
    sign_in(page, staff_link(admin, server, "physiologist", "Sara Holm"))
    for _ in range(SYNC_LIMIT_MS // 100):
        if told and told[-1] == n_proposed:
            break
        page.wait_for_timeout(100)
    assert told[-1] == n_proposed

    rider = glass()
    of_rider = _badges(rider)
    sign_in(rider, rider_link(admin, server))
    Phone(rider).expect_road()
    assert of_rider == []


def _planned(admin) -> set[str]:
    steps = admin.body(f"stage_plan:{RIDER}:{NEXT_STAGE}")["steps"]
    return {drink_id for step in steps for drink_id in step["bottles"]}


def test_a_rider_says_what_he_never_takes_and_his_plan_leaves_it_out(own_team, glass):
    server, admin = own_team
    never = min(_planned(admin))
    name = admin.body(f"drink:{never}")["name"]
    page = glass()
    sign_in(page, rider_link(admin, server))
    page.goto(f"{server.base_url}/#/me")

    page.get_by_role("combobox", name=name, exact=True).select_option("never")
    expect(page.get_by_text("Plans that held it are made again.")).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.settled()

    assert admin.body(f"rider_palate:{RIDER}")["cannot"] == [never]
    assert _planned(admin)
    assert never not in _planned(admin)
    page.get_by_role("combobox", name=name, exact=True).select_option("takes")
    expect(page.get_by_role("combobox", name=name, exact=True)).to_be_enabled(timeout=SYNC_LIMIT_MS)
