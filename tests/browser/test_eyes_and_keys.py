"""Road, hand-up and slate by eyes that see few colours or none, and by hands that use keys alone."""

import io
import re
from itertools import pairwise

import pytest
from browser.conftest import PHONE
from browser.test_phone_screens import _contrast
from browser.test_screens import THEMES
from PIL import Image
from playwright.sync_api import Page, expect
from support.pages import SYNC_LIMIT_MS, sign_in
from support.team import MATE, RIDER, STAGE, rider_link, staff_link

from seed_demo.squad import RIDERS

EYES = ("deuteranopia", "protanopia", "tritanopia", "achromatopsia")
NUMBERS = {card.id: card.race_number for card in RIDERS}
NON_TEXT = 3.0
"""WCAG 2.2, 1.4.11: graphics and states that must be told apart."""
ROLES = {"rider": "road", "soigneur": "hand-up", "doctor": "slate"}


@pytest.fixture(scope="module")
def screens(browser, own_team):
    """A rider with one emptied bottle, a soigneur with a brush in hand, a physician who sees both sides."""
    server, admin = own_team
    facts = [
        admin.fact("drank", rider, {"volume_l": litres, "how": "count"}, stage_id=STAGE)
        for rider, litres in ((RIDER, 0.1), (MATE, 3.0), (MATE, 3.0), (MATE, 3.0))
    ]
    assert {verdict["status"] for verdict in admin.exchange(*facts)} == {"ok"}
    admin.settled()
    pages: dict[str, Page] = {}
    contexts = []
    for role, screen in ROLES.items():
        contexts.append(browser.new_context(**{**PHONE, "device_scale_factor": 1}))
        page = pages[role] = contexts[-1].new_page()
        link = rider_link(admin, server) if role == "rider" else staff_link(admin, server, role, f"{role} Ruys")
        sign_in(page, link)
        page.goto(f"{server.base_url}/#/{screen}")
        if role != "rider":
            page.get_by_label("Stage").first.select_option(STAGE)
    yield pages
    for context in contexts:
        context.close()


def _dress(page: Page, theme: str) -> Page:
    """Show a theme; its lines are of their own width, so nothing is measured before."""
    page.evaluate("(name) => { document.documentElement.dataset.theme = name; }", theme)
    return page


def _seen(page: Page, eyes: str) -> Image.Image:
    cdp = page.context.new_cdp_session(page)
    cdp.send("Emulation.setEmulatedVisionDeficiency", {"type": eyes})
    glass = Image.open(io.BytesIO(page.screenshot(scale="css"))).convert("RGB")
    cdp.send("Emulation.setEmulatedVisionDeficiency", {"type": "none"})
    cdp.detach()
    return glass


def _at(glass: Image.Image, box, across: float, down: float):
    return glass.getpixel((round(box["x"] + box["width"] * across), round(box["y"] + box["height"] * down)))


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("eyes", EYES)
def test_what_is_drunk_and_what_is_left_are_told_apart(screens, eyes, theme):
    page = _dress(screens["rider"], theme)
    level = page.get_by_role("button", name="Down tube: drunk down to ½")
    expect(level).to_be_visible()
    drawn = page.locator(".bottle-down_tube")
    if "at ½" not in (drawn.get_attribute("aria-label") or ""):
        level.click(delay=60)
        expect(drawn).to_have_attribute("aria-label", re.compile("at ½$"))
    box = page.locator(".bottle-down_tube .bottle-drawing").bounding_box()
    glass = _seen(page, eyes)
    empty, full = _at(glass, box, 0.15, 0.4), _at(glass, box, 0.15, 0.8)

    assert _contrast(empty, full) >= NON_TEXT


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("eyes", EYES)
def test_the_brush_in_hand_is_told_from_the_others(screens, eyes, theme):
    page = _dress(screens["soigneur"], theme)
    brushes = page.locator("button.brush")
    expect(brushes.first).to_have_attribute("aria-pressed", "true")
    page.evaluate("scrollTo(0, 0)")
    boxes = [brushes.nth(n).bounding_box() for n in (0, 1)]
    glass = _seen(page, eyes)
    chosen, other = (_at(glass, box, 0.08, 0.2) for box in boxes)

    assert _contrast(chosen, other) >= NON_TEXT


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("eyes", EYES)
def test_the_sides_on_the_slate_are_told_apart_by_place_shape_and_word(screens, eyes, theme):
    page = _dress(screens["doctor"], theme)
    lines = page.locator(".slate-line")
    expect(lines.first.locator(".slate-word")).to_have_text("wet side")
    expect(lines.last.locator(".slate-word")).to_have_text("dry side")
    page.evaluate("scrollTo(0, 120)")
    ring, square = page.locator(".slate .lane-dry").first, page.locator(".slate .lane-wet").first
    boxes = {"ring": ring.bounding_box(), "square": square.bounding_box()}
    kerbs = [line.locator(".mini-lane").bounding_box() for line in (lines.first, lines.last)]
    glass = _seen(page, eyes)
    middle = {name: _at(glass, box, 0.5, 0.5) for name, box in boxes.items()}
    ground = glass.getpixel((3, round(boxes["square"]["y"])))

    assert _contrast(middle["ring"], ground) < 1.3, "a ring is empty"
    assert _contrast(middle["square"], ground) >= NON_TEXT, "a square is full"
    assert boxes["square"]["x"] > kerbs[0]["x"] + kerbs[0]["width"] * 0.6
    assert boxes["ring"]["x"] < kerbs[1]["x"] + kerbs[1]["width"] * 0.3


FOCUSED = """() => {
  const e = document.activeElement;
  const box = e.getBoundingClientRect();
  const style = getComputedStyle(e);
  return [e.textContent.trim() || e.getAttribute("aria-label") || e.tagName, box.top, box.bottom, style.outlineStyle];
}"""


def _tab_to(page: Page, words: str, most: int = 60) -> None:
    """Press Tab until a control with these words has the focus; it must be in sight and ringed."""
    for _ in range(most):
        page.keyboard.press("Tab")
        said, top, bottom, outline = page.evaluate(FOCUSED)
        if words in said:
            assert outline != "none"
            assert top >= 0
            assert bottom <= page.viewport_size["height"]
            return
    raise AssertionError(words)


def test_a_hand_up_is_made_and_taken_back_by_keys_alone(screens):
    page = screens["soigneur"]
    page.evaluate("() => { scrollTo(0, 0); document.activeElement.blur(); }")
    _tab_to(page, "Musette")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Musette", exact=True)).to_have_attribute("aria-pressed", "true")
    _tab_to(page, str(NUMBERS[RIDER]))
    page.keyboard.press("Enter")
    undo = page.get_by_role("button", name=f"Take back Musette → {NUMBERS[RIDER]}")
    expect(undo).to_be_visible()
    _tab_to(page, "Take back")
    page.keyboard.press("Enter")
    expect(undo).to_have_count(0)


def test_the_alert_and_device_questions_are_answered_by_keys_alone(screens, own_team):
    server, _ = own_team
    page = screens["rider"]
    page.goto(f"{server.base_url}/#/me")
    devices = page.get_by_role("region", name="My devices")
    expect(devices.get_by_text("this one, in your hand")).to_be_visible(timeout=SYNC_LIMIT_MS)
    order = []
    for _ in range(60):
        page.keyboard.press("Tab")
        order.append(page.evaluate("document.activeElement.getBoundingClientRect().top + scrollY"))
        if page.evaluate("document.activeElement.textContent") == "Leave":
            break
    assert len(order) >= 12
    assert sum(below < above - 60 for above, below in pairwise(order[1:])) <= 1, "focus goes down the page"
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Yes, take everything off this phone")).to_be_visible()
