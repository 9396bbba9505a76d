"""Every screen, theme and size: no accessibility violation, nothing too small to hit, nothing cut off."""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from support.live import Client
from support.pages import SYNC_LIMIT_MS, sign_in
from support.team import RIDER, STAGE, rider_link, staff_link

AXE = (Path(__file__).resolve().parents[2] / "pwa" / "node_modules" / "axe-core" / "axe.min.js").read_text("utf-8")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "wcag2aaa", "best-practice"]
THEMES = ("roadbook", "slate", "tarmac")
SIZES = {"phone": (390, 844), "narrow": (320, 568), "desk": (1280, 800)}
RIDER_SCREENS = ("road", "bus", "weeks", "me", "mine")
STAFF_SCREENS = (
    "settle", "plans", f"plans/{STAGE}/{RIDER}", "three-weeks", "sweat-day", "race-book", f"race-book/{STAGE}", "me",
    "watch", "desk", "season", f"rider/{RIDER}", "sweat-day/squad", "sweat-day/meter", f"sweat-day/result/{RIDER}",
    "weigh-room", "start", "files", "rides", "coolbox", "slate", "hand-up", "returns", "race-book/new", "drinks",
    "drinks/stock", "drinks/tastes", "drinks/kit", "drinks/drink/new", "drinks/drink/d-standard", "drinks/supply/new",
    "drinks/food/new", "keys", "mine",
)
CONTROLS = "button, a[href], select, input:not([type=radio]):not([type=checkbox])"
SMALL_TARGETS = """([controls, floor]) => [...document.querySelectorAll(controls)]
  .filter((e) => e.checkVisibility() && !e.closest(".hidden"))
  .map((e) => [e.getBoundingClientRect(), e])
  .filter(([box]) => box.width > 0 && Math.min(box.width, box.height) < floor - 0.5)
  .map(([box, e]) => `${(e.textContent || e.id).slice(0, 30)} ${Math.round(box.width)}x${Math.round(box.height)}`)"""
SAME_NAMES = """() => {
  const names = [...document.querySelectorAll("main button, main a[href]")]
    .filter((e) => e.checkVisibility() && !e.disabled)
    .map((e) => (e.getAttribute("aria-label") || e.textContent).trim() + (e.href ?? ""));
  return names.filter((name, i) => names.indexOf(name) !== i);
}"""
ROAD_TARGETS = """() => [...document.querySelectorAll("[data-road]")].map((e) => {
  const box = e.getBoundingClientRect();
  return [box.left, innerWidth - box.right, box.width, box.height];
})"""


@pytest.fixture(scope="module")
def signed_in(browser, team):
    server, admin = team
    pages: dict[str, Page] = {}
    contexts = []
    links = {"rider": rider_link(admin, server), "staff": staff_link(admin, server, "physiologist", "Sara Holm")}
    # Two people may share a name, and one person may have two devices.
    first = Client(server.base_url, admin.invite(role="soigneur", name="Sara Holm"))
    Client(server.base_url, admin.invite(member_id=first.member["id"])).close()
    first.close()
    for who, link in links.items():
        context = browser.new_context(
            viewport={"width": 390, "height": 844}, locale="en-GB", timezone_id="Europe/Paris", reduced_motion="reduce",
        )
        contexts.append(context)
        pages[who] = context.new_page()
        sign_in(pages[who], link)
        pages[who].evaluate(AXE + ";void 0")
    yield pages, server.base_url
    for context in contexts:
        context.close()


def _show(page: Page, base_url: str, screen: str, theme: str, size: str) -> None:
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    page.evaluate("(name) => { document.documentElement.dataset.theme = name; }", theme)
    page.goto(f"{base_url}/#/{screen}")
    expect(page.locator("main h1").first).to_be_visible(timeout=SYNC_LIMIT_MS)
    if screen == "keys":
        expect(page.get_by_role("group", name="Sara Holm").first).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.evaluate("document.fonts.ready.then(() => 1)")


def _violations(page: Page) -> list[str]:
    found = page.evaluate("(tags) => axe.run(document, {runOnly: tags, resultTypes: ['violations']})", TAGS)
    return [f"{v['id']}: {node['target']} {node['any'][:1]}" for v in found["violations"] for node in v["nodes"]]


@pytest.mark.parametrize(
    ("who", "screen", "size"),
    [("rider", screen, "phone") for screen in RIDER_SCREENS]
    + [("staff", screen, size) for screen in STAFF_SCREENS for size in ("phone", "desk")],
)
def test_axe_finds_nothing_in_any_theme(signed_in, who, screen, size):
    pages, base_url = signed_in
    page = pages[who]
    _show(page, base_url, screen, THEMES[0], size)
    # What folds open is part of the screen; a closed one would hide its faults.
    page.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; }); void 0")
    found = {}
    for theme in THEMES:
        page.evaluate("(name) => { document.documentElement.dataset.theme = name; }", theme)
        found[theme] = _violations(page)

    assert found == {theme: [] for theme in THEMES}


@pytest.mark.parametrize("size", ["phone", "narrow"])
@pytest.mark.parametrize(
    ("who", "screen"), [("rider", s) for s in RIDER_SCREENS] + [("staff", s) for s in STAFF_SCREENS],
)
def test_nothing_is_too_small_to_hit_or_wider_than_the_phone(signed_in, who, screen, size):
    pages, base_url = signed_in
    page = pages[who]
    _show(page, base_url, screen, "roadbook", size)

    assert page.evaluate(SMALL_TARGETS, [CONTROLS, 44]) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]


@pytest.mark.parametrize(
    ("who", "screen"), [("rider", s) for s in RIDER_SCREENS] + [("staff", s) for s in STAFF_SCREENS],
)
def test_no_two_buttons_have_the_same_name(signed_in, who, screen):
    pages, base_url = signed_in
    page = pages[who]
    _show(page, base_url, screen, "roadbook", "desk")

    assert page.evaluate(SAME_NAMES) == []


def test_road_targets_are_wide_enough_for_a_glove_and_off_the_edges(signed_in):
    pages, base_url = signed_in
    _show(pages["rider"], base_url, "road", "roadbook", "phone")
    targets = pages["rider"].evaluate(ROAD_TARGETS)

    assert len(targets) >= 10
    assert min(min(width, height) for _, _, width, height in targets) >= 104.5
    assert min(min(left, right) for left, right, _, _ in targets) >= 47.5
