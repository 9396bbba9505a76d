"""What the desk prints fits its paper: A4 landscape, whole words at the right edge, no chrome of the screen."""

import pypdfium2
import pytest
from playwright.sync_api import expect
from support.pages import SYNC_LIMIT_MS
from support.team import RIDER, STAGE

A4_LANDSCAPE_PT = (842, 595)


@pytest.mark.parametrize("route", ["settle", "three-weeks"])
def test_a_table_prints_whole_on_a4_landscape(own_team, glass, route):
    server, admin = own_team
    mass_kg = admin.body(f"rider_body:{RIDER}")["mass_kg"]
    admin.exchange(
        admin.fact("weighed", RIDER, {"moment": "before", "mass_kg": mass_kg}, stage_id=STAGE),
        admin.fact("handed_up", RIDER, {"drink_id": "d-water", "volume_l": 0.5}, stage_id=STAGE),
        admin.fact("agreed", RIDER, {"drunk_l": 0.5}, stage_id=STAGE),
    )
    admin.settled()
    page = glass["desk"]
    page.goto(f"{server.base_url}/#/{route}")
    expect(page.get_by_role("table").or_(page.get_by_role("grid")).first).to_contain_text(
        admin.body(f"rider:{RIDER}")["name"], timeout=SYNC_LIMIT_MS)

    pdf = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
    first = pdf[0]
    text = first.get_textpage()

    assert tuple(round(side) for side in first.get_size()) == A4_LANDSCAPE_PT
    assert admin.body(f"rider:{RIDER}")["name"] in text.get_text_bounded()
    right = max(text.get_charbox(i)[2] for i in range(text.count_chars()))
    assert right <= A4_LANDSCAPE_PT[0] - 20, "a word runs off the paper"
    assert "Linked" not in text.get_text_bounded()
