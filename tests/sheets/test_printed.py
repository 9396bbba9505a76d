"""Printed sheets, rendered again and read: every code decodes, every label lies where its sheet is cut."""

import sys

import pytest
from brinebook.planning.bottle_code import PREFIX
from brinebook.records.derived import PrepSheet
from brinebook.sheets import pdf as pdf_module
from brinebook.sheets.errors import DEBIAN_PACKAGES, NothingToPrint, PaperUnavailable
from brinebook.sheets.geometry import QUIET_MODULES_N, Nudge, label_stocks
from msgspec import json
from planning.fakes import TEAM
from sheets.paper import Rendered

PRINTED_AT_MS = 1_782_129_600_000
DPI = 300
MOST_OFFSET_MM = 0.5


def _sheet(shelf):
    return json.decode(shelf.document(TEAM, "prep_sheet:s1").body, type=PrepSheet)


def _bottles(shelf):
    return [bottle for place in _sheet(shelf).places for bottle in place.bottles]


@pytest.mark.parametrize("stock", sorted(label_stocks()))
def test_every_code_of_every_label_decodes_at_300_dpi_and_lies_within_half_a_millimetre(shelf, printer, stock):
    geometry = label_stocks()[stock]
    rendered = Rendered(printer(stock=stock).labels("s1"), DPI)
    bottles = _bottles(shelf)

    assert rendered.sizes_mm[0] == pytest.approx(geometry.page_mm, abs=0.1)
    assert len(rendered.images) == -(-len(bottles) // geometry.n_per_page)
    found = {}
    for n_page in range(len(rendered.images)):
        for code in rendered.codes(n_page):
            found[code.text] = (n_page, code)
    assert set(found) == {PREFIX + bottle.code for bottle in bottles}
    assert len(bottles) > 12
    module_mm = geometry.code_mm / (21 + 2 * QUIET_MODULES_N)
    for n, bottle in enumerate(bottles):
        n_page, code = found[PREFIX + bottle.code]
        corner = geometry.code_corner_mm(n % geometry.n_per_page)
        expected = tuple(at + QUIET_MODULES_N * module_mm for at in corner)
        assert n_page == n // geometry.n_per_page
        assert max(abs(a - b) for a, b in zip(code.top_left_mm, expected, strict=True)) <= MOST_OFFSET_MM


@pytest.mark.parametrize(("right_mm", "down_mm"), [(2.0, -1.5), (-0.7, 0.3)])
def test_a_nudge_moves_the_outlines_by_so_much(printer, right_mm, down_mm):
    plain, moved = (
        Rendered(printer(stock="a4_2x7", right_mm=x, down_mm=y).grid(), DPI).ink_corner_mm(0)
        for x, y in ((0.0, 0.0), (right_mm, down_mm))
    )

    assert moved[0] - plain[0] == pytest.approx(right_mm, abs=0.15)
    assert moved[1] - plain[1] == pytest.approx(down_mm, abs=0.15)


@pytest.mark.parametrize("stock", ["a4_2x7", "letter_3x10", "letter_2x5"])
def test_the_grid_s_first_outline_stands_where_the_first_label_is_cut(printer, stock):
    corner = Rendered(printer(stock=stock).grid(), DPI).ink_corner_mm(0)

    assert corner == pytest.approx(label_stocks()[stock].first_mm, abs=0.25)


def test_labels_of_every_stock_fit_their_page_and_do_not_overlap():
    for stock in label_stocks().values():
        last = stock.corner_mm(stock.n_per_page - 1, Nudge())
        assert last[0] + stock.label_mm[0] <= stock.page_mm[0] + 0.01
        assert last[1] + stock.label_mm[1] <= stock.page_mm[1] + 0.11
        assert all(pitch >= size for pitch, size in zip(stock.pitch_mm, stock.label_mm, strict=True))
        # Read from 20 cm: a code is at least a tenth of the distance wide.
        assert stock.code_mm >= 19.0


@pytest.mark.parametrize(("paper", "size_mm"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_the_prep_sheet_holds_every_bottle_once_its_version_and_the_grams(shelf, printer, paper, size_mm):
    made = printer("soigneur", paper=paper, bucket_l=10.0).prep("s1", printed_at_ms=PRINTED_AT_MS, link="http://x/#/c")
    rendered = Rendered(made, 100)
    text = rendered.text
    big = [said for said, size in rendered.font_sizes_pt() if size == pytest.approx(20.0, abs=0.1)]

    assert rendered.sizes_mm[0] == pytest.approx(size_mm, abs=0.2)
    assert "Sheet v1" in text
    assert "printed 14:00" in text
    assert sorted(said for said in big if said.isdigit()) == [f"{bottle.number:02d}" for bottle in _bottles(shelf)]
    standard = next(mix for mix in _sheet(shelf).mixes if mix.drink_id == "standard")
    assert f"{standard.n_bottles} bottles" in text
    assert "scoop" in text
    for word in ("sweat", "mmol", "kg lighter", "deficit"):
        assert word not in text


def test_the_way_back_to_the_live_sheet_decodes(printer):
    link = "https://books.example/#/coolbox/s1"
    rendered = Rendered(printer().prep("s1", printed_at_ms=PRINTED_AT_MS, link=link), DPI)

    assert [code.text for code in rendered.codes(0)] == [link]


def test_nothing_printed_is_smaller_than_the_rules_ask(printer):
    sizes = Rendered(printer().prep("s1", printed_at_ms=PRINTED_AT_MS, link="http://x"), 72).font_sizes_pt()

    # Page numbers alone may be smaller than the body's 11 pt; bottle numbers are 20 pt.
    numbers = [size for text, size in sizes if text.isdigit() and len(text) == 2 and size > 15.0]
    assert min(size for text, size in sizes if "/" not in text) >= 10.9
    assert len(numbers) > 10
    assert set(map(round, numbers)) == {20}


def test_a_card_tells_its_rider_the_rule_and_where_to_stop(printer):
    text = Rendered(printer().cards("s1"), 72).text

    assert "41 Rider 1" in text
    assert "stop drinking and tell the team physician" in " ".join(text.split())
    for word in ("mmol", "mg/L", "kg"):
        assert word not in text


@pytest.mark.parametrize(("role", "rider_id", "prep", "cards"), [
    ("soigneur", None, True, False), ("car", None, True, False), ("coach", None, True, False),
    ("physiologist", None, True, True), ("doctor", None, True, True), ("admin", None, True, True),
    ("rider", "r1", False, True), ("rider", "r9", False, False),
])
def test_who_may_print_what(printer, monkeypatch, role, rider_id, prep, cards):
    monkeypatch.setattr("brinebook.sheets.printing.pdf", lambda html: html.encode())
    one = printer(role, rider_id)
    prints = {
        "prep": lambda: one.prep("s1", printed_at_ms=PRINTED_AT_MS, link="http://x"),
        "labels": lambda: one.labels("s1"),
        "cards": lambda: one.cards("s1"),
    }
    expected = {"prep": prep, "labels": prep, "cards": cards}
    for name, job in prints.items():
        if expected[name]:
            assert job()
        else:
            with pytest.raises(NothingToPrint):
                job()
    if role == "rider" and cards:
        assert one.cards("s1").count(b'class="card"') == 1


@pytest.mark.parametrize(("wanted", "field"), [
    ({"stock": "b5"}, "stock"), ({"paper": "b5"}, "paper"), ({"language": "xx"}, "language"),
    ({"right_mm": 2.5}, "right_mm"), ({"down_mm": float("nan")}, "down_mm"), ({"bucket_l": 0.1}, "bucket_l"),
])
def test_a_bad_wish_is_named(printer, wanted, field):
    with pytest.raises(NothingToPrint) as refused:
        one = printer(**wanted)
        one.prep("s1", printed_at_ms=PRINTED_AT_MS, link="http://x") if field == "bucket_l" else one.grid()

    assert refused.value.field == field
    assert refused.value.limit


def test_without_pango_one_sentence_names_the_packages(monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)

    with pytest.raises(PaperUnavailable) as refused:
        pdf_module.pdf("<p>x</p>")

    assert DEBIAN_PACKAGES in str(refused.value)
    assert set(DEBIAN_PACKAGES.split()) == {"libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"}
