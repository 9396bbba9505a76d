"""What people type is text on every screen, and a page can make no markup out of it (OWASP ASVS 5.0, 3.2.2)."""

import pytest
from browser.test_screens import RIDER_SCREENS, STAFF_SCREENS
from playwright.sync_api import expect
from support.pages import SYNC_LIMIT_MS, sign_in
from support.team import RIDER, STAGE, rider_link, staff_link

MARK = '<img src="/x" onerror="window.owned=1">{}'
OWNED = "[Boolean(window.owned), document.querySelectorAll('img[src=\"/x\"]').length]"
SINKS = {
    "innerHTML": "document.body.innerHTML = '<b>x</b>'",
    "outerHTML": "document.body.firstElementChild.outerHTML = '<b>x</b>'",
    "insertAdjacentHTML": "document.body.insertAdjacentHTML('beforeend', '<b>x</b>')",
    "document.write": "document.write('<b>x</b>')",
    "iframe.srcdoc": "document.createElement('iframe').srcdoc = '<b>x</b>'",
    "script.src": "document.createElement('script').src = '/x.js'",
    "eval": "(0, eval)('1')",
    "Function": "new Function('return 1')()",
}


@pytest.fixture(scope="module")
def marked(own_team):
    """Put markup where people write: names of riders, stages, drinks and staff."""
    _, admin = own_team
    admin.settled()
    for path, type_, id_ in (("riders", "rider", RIDER), ("stages", "stage", STAGE), ("drinks", "drink", "d-standard")):
        record = admin.body(f"{type_}:{id_}")
        admin.http.put(f"/api/{path}/{id_}", json={**record, "name": MARK.format(type_)}).raise_for_status()
    return own_team


@pytest.mark.parametrize("who", ["rider", "physiologist"])
def test_markup_in_what_people_type_is_shown_as_text_on_every_screen(marked, browser, who):
    server, admin = marked
    context = browser.new_context(locale="en-GB", timezone_id="Europe/Paris")
    page = context.new_page()
    link = rider_link(admin, server) if who == "rider" else staff_link(admin, server, who, MARK.format(who))
    sign_in(page, link)
    seen = set()

    for screen in RIDER_SCREENS if who == "rider" else STAFF_SCREENS:
        page.goto(f"{server.base_url}/#/{screen}")
        expect(page.locator("main h1").first).to_be_visible(timeout=SYNC_LIMIT_MS)
        assert page.evaluate(OWNED) == [False, 0], screen
        if "window.owned" in page.locator("body").inner_text():
            seen.add(screen)

    assert len(seen) >= (1 if who == "rider" else 10), seen
    context.close()


def test_a_page_cannot_turn_text_into_markup_or_code(marked, browser):
    server, admin = marked
    context = browser.new_context()
    page = context.new_page()
    sign_in(page, rider_link(admin, server))

    # Later, on the page's own time: what a test hands over for now may evaluate text whatever the page says.
    refused = {name: page.evaluate("""() => new Promise((done) => setTimeout(() => {
      try { %s; done("let through"); } catch (problem) { done(problem.name); }
    }))""".replace("%s", code)) for name, code in SINKS.items()}

    assert set(refused.values()) <= {"TypeError", "EvalError"}, refused
    context.close()
