"""The coolbox: accessible in every theme, printed with the server dead, a weak batch told in words; the pantry asks."""

import re

import pytest
from browser.test_screens import AXE, SIZES, SMALL_TARGETS, THEMES, _show, _violations
from playwright.sync_api import Page, expect
from sheets.paper import Rendered
from support.pages import CONTROLLED, SYNC_LIMIT_MS, sign_in
from support.team import STAGE, staff_link

CONTROLS = "button, a[href], select, input:not([type=radio]):not([type=checkbox])"
PREFIX = "B/"


@pytest.fixture(scope="module")
def crew(browser, team):
    server, admin = team
    pages: dict[str, Page] = {}
    contexts = []
    for role, name in (("soigneur", "Bruno Fallachi"), ("physiologist", "Mira Estenholt")):
        context = browser.new_context(
            viewport={"width": 390, "height": 844}, locale="en-GB", timezone_id="Europe/Paris", reduced_motion="reduce",
        )
        contexts.append(context)
        pages[role] = context.new_page()
        sign_in(pages[role], staff_link(admin, server, role, name))
        pages[role].evaluate(AXE + ";void 0")
    yield pages, server, admin
    for context in contexts:
        context.close()


SCREENS = [
    ("soigneur", "coolbox", None), ("soigneur", "coolbox", "Labels"), ("soigneur", "coolbox", "Mix check"),
    ("physiologist", "drinks", None), ("physiologist", "drinks/stock", None), ("physiologist", "drinks/tastes", None),
    ("physiologist", "drinks/kit", None),
    ("physiologist", "drinks/supply/p-carbo", None), ("physiologist", "drinks/drink/d-standard", None),
    ("physiologist", "drinks/food/f-gel", None),
]


def _open(pages, server, who, screen, tab, *, theme="roadbook", size="phone"):
    page = pages[who]
    _show(page, server.base_url, screen, theme, size)
    if screen == "coolbox":
        page.get_by_role("combobox", name="Stage").select_option(STAGE)
        page.get_by_role("button", name=tab or "Sheet", exact=True).click()
    return page


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("size", ["phone", "desk"])
@pytest.mark.parametrize(("who", "screen", "tab"), SCREENS)
def test_axe_finds_nothing(crew, who, screen, tab, size, theme):
    pages, server, _ = crew
    page = _open(pages, server, who, screen, tab, theme=theme, size=size)

    assert _violations(page) == []


@pytest.mark.parametrize("size", ["phone", "narrow"])
@pytest.mark.parametrize(("who", "screen", "tab"), SCREENS)
def test_nothing_is_too_small_to_hit_or_wider_than_the_phone(crew, who, screen, tab, size):
    pages, server, _ = crew
    page = _open(pages, server, who, screen, tab, size=size)

    assert page.evaluate(SMALL_TARGETS, [CONTROLS, 44]) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]


def _printed(page) -> Rendered:
    return Rendered(page.pdf(prefer_css_page_size=True, tagged=True, outline=True), 300)


def test_sheet_and_labels_print_with_the_server_stopped(phone, team):
    server, admin = team
    context = phone()
    page = context.pages[0]
    sign_in(page, staff_link(admin, server, "soigneur", "Katla Vindsdal"))
    page.evaluate(CONTROLLED)
    page.goto(f"{server.base_url}/#/coolbox")
    page.get_by_role("combobox", name="Stage").select_option(STAGE)
    expect(page.get_by_role("heading", name=re.compile("To mix"))).to_be_visible(timeout=SYNC_LIMIT_MS)
    sheet = admin.body(f"prep_sheet:{STAGE}")
    bottles = [bottle for place in sheet["places"] for bottle in place["bottles"]]

    server.kill()
    try:
        page.reload()
        page.get_by_role("combobox", name="Stage").select_option(STAGE)
        prep = _printed(page)
        page.get_by_role("button", name="Letter").click()
        expect(page.get_by_role("button", name="Letter")).to_have_attribute("aria-pressed", "true")
        letter = _printed(page)
        page.get_by_role("button", name="Labels", exact=True).click()
        labels = {}
        for stock, size_mm in (("a4_3x8", (210.0, 297.0)), ("letter_3x10", (215.9, 279.4)), ("roll_62", (62.0, 32.0))):
            page.get_by_role("combobox", name="Label sheet").select_option(stock)
            expect(page.get_by_role("combobox", name="Label sheet")).to_have_value(stock)
            labels[stock] = (_printed(page), size_mm)
    finally:
        server.start()
        context.close()

    assert prep.sizes_mm[0] == pytest.approx((210.0, 297.0), abs=0.4)
    assert letter.sizes_mm[0] == pytest.approx((215.9, 279.4), abs=0.4)
    assert f"Sheet v{sheet['sheet_version']}" in prep.text
    words = prep.text.split()
    assert all(f"{bottle['number']:02d}" in words for bottle in bottles)
    assert "Hand-up" not in prep.text
    for stock, (rendered, size_mm) in labels.items():
        read = {code.text for n in range(len(rendered.images)) for code in rendered.codes(n)}
        assert rendered.sizes_mm[0] == pytest.approx(size_mm, abs=0.4), stock
        assert read == {PREFIX + bottle["code"] for bottle in bottles}, stock


def test_a_weak_batch_is_told_in_words_and_reaches_the_plans(crew):
    pages, server, admin = crew
    page = _open(pages, server, "soigneur", "coolbox", "Mix check")
    page.get_by_role("button", name="S", exact=True).click()
    page.get_by_label("Carbohydrate powder").fill("625")
    page.get_by_label("Table salt").fill("7")
    page.get_by_label("Water in").fill("9,6")

    expect(page.get_by_role("status").filter(has_text="Too weak")).to_contain_text("the label says 800 mg/L")
    page.get_by_role("button", name="Keep this check").click()
    expect(page.get_by_text("kept on this phone")).to_be_visible()
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.settled()

    [check] = [event for event in admin.events.values() if event["kind"] == "mix_check"]
    made = (625 * 3.0 + 7 * 393.37) / (9.6 + 0.62 * 0.6)
    assert check["body"]["how"] == "weighed"
    assert check["body"]["water_l"] == 9.6
    assert check["body"]["sodium_mg_per_l"] == pytest.approx(made, rel=0.002)
    profile = next(one for id_, one in admin.documents.items() if id_.startswith("profile:"))["body"]
    assert profile["pocket_rule"] is not None


def test_a_misread_label_is_asked_about_and_nothing_typed_is_lost(crew):
    pages, server, admin = crew
    page = _open(pages, server, "physiologist", "drinks/supply/new", None, size="desk")
    page.get_by_label("Name", exact=True).fill("Camp powder")
    page.get_by_label("Powder in a serving").fill("62")
    page.get_by_label("Drink in a serving").fill("1000")
    page.get_by_role("button", name="Add a line").click()
    page.get_by_label("What", exact=True).select_option("sodium")
    page.get_by_label("Figure").fill("2000")
    page.get_by_label("Unit").select_option("mg")
    page.get_by_label("Per", exact=True).select_option("litre")
    question = page.get_by_text("is this salt and not sodium? As sodium it makes 2,000 mg/L; as salt it would make 800")
    expect(question).to_be_visible(timeout=SYNC_LIMIT_MS)

    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("answer the questions about the label")).to_be_visible()
    expect(page.get_by_label("Figure")).to_have_value("2000")
    page.get_by_label("What", exact=True).select_option("salt")
    expect(page.get_by_text("is this sodium and not salt? As salt it makes 800")).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_role("button", name="It is right: 800 mg/L").click()
    expect(page.get_by_text("A gram holds 12.90 mg of sodium")).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(page.get_by_role("button", name="It is right")).to_have_count(0, timeout=SYNC_LIMIT_MS)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("link", name="Camp powder")).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.settled()

    [kept] = [one["body"] for id_, one in admin.documents.items() if id_.startswith("supply:camp-powder")]
    assert kept["sodium_mg_per_g"] == pytest.approx(2000.0 / 2.5 / 62.0)
    assert kept["label"] == [{"nutrient": "salt", "typed": 2000.0, "unit": "mg", "basis": "litre"}]


def test_a_count_moves_what_is_on_hand(crew):
    pages, server, admin = crew
    page = _open(pages, server, "physiologist", "drinks/stock", None, size="desk")
    row = page.get_by_role("row").filter(has_text="Sodium citrate")
    row.get_by_role("textbox").fill("275")

    row.get_by_role("button", name="Counted").click()

    expect(row.get_by_role("cell", name="275 g")).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.settled()
    [line] = [one for one in admin.body("stock:team")["lines"] if one["item_id"] == "p-citrate"]
    assert line["n_on_hand"] == 275.0


def test_paper_older_than_the_sheet_asks_to_be_printed_again(crew):
    pages, server, admin = crew
    before = admin.body(f"prep_sheet:{STAGE}")["sheet_version"]
    printed = admin.fact("sheet_printed", admin.team_id, {"what": "prep", "sheet_version": before}, stage_id=STAGE)
    assert admin.exchange(printed)[0]["status"] == "ok"
    page = _open(pages, server, "soigneur", "coolbox", None)
    expect(page.get_by_text(f"Sheet v{before}", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(page.get_by_text("Reprint")).to_be_hidden()

    kit = admin.body("kit:kit")
    admin.http.put("/api/kits/kit", json={**kit, "spare_frac": 0.5}).raise_for_status()
    admin.settled()

    reprint = page.get_by_text(f"Reprint: the paper lying about is v{before}, this is v{before + 1}.")
    expect(reprint).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(page.get_by_text(f"supersedes v{before}")).to_be_visible()
