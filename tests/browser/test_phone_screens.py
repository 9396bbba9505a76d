"""The screens of hands, car and doctor, the low phone, five languages and eyes that see few colours."""

import io

import pytest
from browser.conftest import PHONE
from browser.test_screens import AXE, CONTROLS, ROAD_TARGETS, SMALL_TARGETS, TAGS, THEMES
from PIL import Image
from playwright.sync_api import Page, expect
from support.pages import sign_in
from support.team import RIDER, rider_link, staff_link

SCREENS = {
    "soigneur": ["hand-up", "returns", "weigh-room", f"bus/{RIDER}", "no-such-page", "shared"],
    "car": ["slate"],
    "doctor": ["slate", f"bus/{RIDER}"],
    "rider": ["road", "bus", "weeks", "me"],
    "nobody": [""],
}
CASES = [(role, screen) for role, screens in SCREENS.items() for screen in screens]
LANGUAGES = ("fr", "it", "es", "nl")
CLIPPED = """() => [...document.querySelectorAll("button, a, h1, h2, label > span, .landmark, .steps-label")]
  .filter((e) => e.checkVisibility() && !e.closest(".hidden") && e.clientWidth > 0)
  .filter((e) => e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 3)
  .map((e) => [e.className, e.textContent.slice(0, 40), e.scrollWidth, e.clientWidth, e.scrollHeight].join(" "))"""
LONGER = """() => {
  const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  const accents = { a: "á", e: "ë", i: "ï", o: "ö", u: "ü", n: "ñ", c: "ç" };
  let n = 0;
  while (walk.nextNode()) {
    const text = walk.currentNode.data;
    if (!/[a-z]{3}/i.test(text) || walk.currentNode.parentElement.closest("svg, select, .next-step, .cage")) continue;
    const words = text.replace(/[aeiounc]/g, (c) => accents[c]);
    walk.currentNode.data = words + " " + "øøøøø ".repeat(Math.max(1, Math.round(text.length * 0.4 / 6)));
    n += 1;
  }
  return n;
}"""


@pytest.fixture(scope="module")
def hands(browser, team):
    server, admin = team
    pages: dict[str, Page] = {}
    contexts = []
    for role in SCREENS:
        contexts.append(browser.new_context(**PHONE))
        page = pages[role] = contexts[-1].new_page()
        if role == "nobody":
            page.goto(server.base_url)
        else:
            link = rider_link(admin, server) if role == "rider" else staff_link(admin, server, role, f"{role} Ruys")
            sign_in(page, link)
        page.evaluate(AXE + ";void 0")
    yield pages, server.base_url
    for context in contexts:
        context.close()


def _show(hands, role: str, screen: str, *, theme: str = "roadbook", size: tuple[int, int] = (390, 844)) -> Page:
    pages, base_url = hands
    page = pages[role]
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.evaluate("(name) => { document.documentElement.dataset.theme = name; }", theme)
    page.goto(f"{base_url}/#/{screen}")
    expect(page.locator("main h1").first).to_be_attached(timeout=10_000)
    return page


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("role", "screen"), [case for case in CASES if case[0] != "rider"])
def test_axe_finds_nothing_on_the_hands_screens(hands, role, screen, theme):
    page = _show(hands, role, screen, theme=theme, size=(360, 640) if theme == "tarmac" else (390, 844))
    found = page.evaluate("(tags) => axe.run(document, {runOnly: tags, resultTypes: ['violations']})", TAGS)

    assert [f"{v['id']}: {node['target']}" for v in found["violations"] for node in v["nodes"]] == []


@pytest.mark.parametrize("size", [(360, 640), (320, 568), (844, 390)])
@pytest.mark.parametrize(("role", "screen"), [case for case in CASES if case != ("rider", "road")])
def test_every_phone_screen_reflows_and_can_be_hit(hands, role, screen, size):
    page = _show(hands, role, screen, size=size)

    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    assert page.evaluate(SMALL_TARGETS, [CONTROLS, 44]) == []


@pytest.mark.parametrize(
    ("size", "floor"), [
        ((390, 844), 104.5), ((412, 811), 104.5), ((360, 800), 104.5), ((393, 780), 104.5), ((393, 731), 104.5),
        ((390, 700), 104.5), ((375, 667), 95.5), ((360, 640), 95.5),
    ],
)
def test_the_road_keeps_its_targets_whole_on_every_glass(hands, size, floor):
    page = _show(hands, "rider", "road", size=size)
    page.wait_for_timeout(150)
    targets = page.evaluate(ROAD_TARGETS)

    assert len(targets) == 10
    assert min(min(width, height) for _, _, width, height in targets) >= floor
    assert min(min(left, right) for left, right, _, _ in targets) >= 47.5
    assert page.evaluate("document.documentElement.scrollHeight") <= size[1]
    for shown in (".next-step", ".next-pocket", ".lane svg", ".main-figure"):
        assert page.locator(shown).is_visible(), "what to do now is always in sight"


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_stays_inside_its_buttons_on_a_narrow_phone(hands, language):
    pages, base_url = hands
    page = pages["rider"]
    page.set_viewport_size({"width": 360, "height": 640})
    page.goto(f"{base_url}/#/me")
    page.locator("select").first.select_option(language)
    expect(page.locator("html")).to_have_attribute("lang", language)
    try:
        for screen in SCREENS["rider"]:
            page.goto(f"{base_url}/#/{screen}")
            page.wait_for_timeout(150)
            assert page.evaluate(CLIPPED) == [], screen
            assert page.evaluate("document.documentElement.scrollWidth") <= 360, screen
    finally:
        page.goto(f"{base_url}/#/me")
        page.locator("select").first.select_option("en")


@pytest.mark.parametrize(("role", "screen"), [case for case in CASES if case != ("nobody", "")])
def test_words_half_as_long_again_clip_nothing(hands, role, screen):
    """The pseudo-locale: accents, and 40 % more of everything."""
    page = _show(hands, role, screen, size=(360, 740))
    try:
        assert page.evaluate(LONGER) >= 1
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        assert [line for line in page.evaluate(CLIPPED) if "nav" not in line] == []
    finally:
        page.reload()
        expect(page.locator("main h1").first).to_be_attached(timeout=10_000)
        page.evaluate(AXE + ";void 0")


def _luminance(pixel) -> float:
    red, green, blue = (((c / 255 + 0.055) / 1.055) ** 2.4 if c > 10 else c / 255 / 12.92 for c in pixel[:3])
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one, other) -> float:
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("eyes", ["deuteranopia", "protanopia", "tritanopia", "achromatopsia"])
def test_the_two_sides_are_told_apart_by_shape_whatever_the_eyes(hands, eyes, theme):
    """A ring is empty in the middle and a square is full, in every simulated deficiency and in grey."""
    page = _show(hands, "rider", "weeks", theme=theme)
    cdp = page.context.new_cdp_session(page)
    cdp.send("Emulation.setEmulatedVisionDeficiency", {"type": eyes})
    try:
        ring, square = page.locator(".lane .lane-dry").first, page.locator(".lane .lane-wet").first
        ring.scroll_into_view_if_needed()
        glass = Image.open(io.BytesIO(page.screenshot(scale="css"))).convert("RGB")
        boxes = {"ring": ring.bounding_box(), "square": square.bounding_box()}
        middle = {
            name: glass.getpixel((round(box["x"] + box["width"] / 2), round(box["y"] + box["height"] / 2)))
            for name, box in boxes.items()
        }
        ground = glass.getpixel((2, round(boxes["ring"]["y"])))
    finally:
        cdp.send("Emulation.setEmulatedVisionDeficiency", {"type": "none"})

    assert _contrast(middle["ring"], ground) < 1.3
    assert _contrast(middle["square"], ground) >= 4.5


def test_a_rider_reads_on_me_who_looked(team, browser):
    server, admin = team
    context = browser.new_context(**PHONE)
    page = context.new_page()
    sign_in(page, rider_link(admin, server))
    admin.exchange()
    page.goto(f"{server.base_url}/#/me")

    looked = page.get_by_role("region", name="Who looked")
    looked.get_by_role("button", name="Show").click()

    expect(looked.get_by_role("listitem").filter(has_text="saw figures of your body").first).to_be_visible()
    context.close()
