"""Others' figures are covered while nobody is there; what was typed is still there afterwards."""

import pytest
from browser.conftest import DESK, PHONE
from browser.test_screens import AXE, THEMES, _violations
from playwright.sync_api import expect
from support.pages import SYNC_LIMIT_MS, TURN, sign_in
from support.team import staff_link

COVERED = "getComputedStyle(document.querySelector('main.sx')).visibility"
TYPED = "2.85"


@pytest.fixture
def away(own_team, browser, request):
    server, admin = own_team
    size = {"desk": DESK, "phone": PHONE}[request.param]
    context = browser.new_context(**size)
    page = context.new_page()
    sign_in(page, staff_link(admin, server, "physiologist", f"Sara Holm, {request.param}"))
    page.clock.install()
    page.goto(f"{server.base_url}/#/sweat-day")
    expect(page.locator("main h1").first).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.wait_for_timeout(300)
    yield page
    context.close()


def _cover(page):
    return page.get_by_role("heading", name="Covered: other people's figures")


@pytest.mark.parametrize(("away", "idle_s"), [("phone", 60), ("desk", 300)], indirect=["away"])
def test_figures_are_covered_after_a_while_and_what_was_typed_stays(away, idle_s):
    page = away
    field = page.locator("main.sx input[inputmode=decimal]").first
    field.fill(TYPED)
    page.clock.run_for((idle_s - 5) * 1000)
    expect(_cover(page)).to_have_count(0)
    assert page.evaluate(COVERED) == "visible"

    page.clock.run_for(10_000)

    expect(_cover(page)).to_be_visible()
    expect(field).not_to_be_visible()
    page.get_by_role("button", name="Show them").click()
    expect(_cover(page)).to_have_count(0)
    expect(field).to_be_visible()
    assert field.input_value() == TYPED


@pytest.mark.parametrize("away", ["phone"], indirect=True)
def test_whoever_reads_and_scrolls_is_there(away):
    page = away
    for _ in range(4):
        page.clock.run_for(40_000)
        page.evaluate("dispatchEvent(new Event('scroll'))")

    expect(_cover(page)).to_have_count(0)


@pytest.mark.parametrize("away", ["phone"], indirect=True)
def test_in_the_list_of_open_apps_nothing_can_be_read(away):
    page = away

    assert page.evaluate(f"(state) => {{ ({TURN})(state); return {COVERED}; }}", "hidden") == "hidden"

    page.clock.run_for(20_000)
    page.evaluate(TURN, "visible")
    expect(_cover(page)).to_have_count(0)
    assert page.evaluate(COVERED) == "visible"
    page.evaluate(TURN, "hidden")
    expect(_cover(page)).to_have_count(1)
    page.clock.run_for(70_000)
    page.evaluate(TURN, "visible")
    expect(_cover(page)).to_be_visible()


@pytest.mark.parametrize("away", ["phone", "desk"], indirect=True)
def test_the_cover_itself_is_plain_to_everybody(away):
    page = away
    page.evaluate(AXE + ";void 0")
    page.evaluate(TURN, "hidden")
    expect(_cover(page)).to_be_visible()

    for theme in THEMES:
        page.evaluate("(name) => { document.documentElement.dataset.theme = name; }", theme)
        page.clock.resume()
        assert _violations(page) == [], theme
