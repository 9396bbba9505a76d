"""Data in: whole tables, or a refusal that names line, field, value and limit."""

import pytest
from brinebook.files.errors import FileProblem
from brinebook.files.imports import read_table

ROSTER = "number,name,mass_kg,height_m,age_years,sex\n61,Teodor Maravel,63.4,1.78,26,m\n62,Sefu Okunde,70,1.84,31,m\n"
WEIGH = "stage;number;moment;mass_kg;food_kg\n3;61;before;63,4;\n3;61;after;61,9;0,3\n"


def test_a_roster_becomes_riders_and_bodies():
    rows = read_table("roster", ROSTER)

    assert rows[0] == {
        "rider": {"id": "r-61", "name": "Teodor Maravel", "race_number": 61},
        "body": {"id": "r-61", "mass_kg": 63.4, "height_m": 1.78, "age_years": 26, "sex": "m"},
    }
    assert len(rows) == 2


def test_semicolons_bring_decimal_commas_and_a_byte_order_mark_is_no_name():
    rows = read_table("weigh-ins", "\ufeff" + WEIGH)

    assert rows[1] == {"stage": 3, "number": 61, "body": {"moment": "after", "mass_kg": 61.9, "food_kg": 0.3}}


def test_a_drink_keeps_its_label():
    rows = read_table("drinks", "name\tshort_name\tsodium_mg_per_l\tbottle_l\nSalty mix\tN 1\t1500\t0,75\n")

    assert rows == [
        {"id": "d-n-1", "name": "Salty mix", "short_name": "N 1", "bottle_l": 0.75, "sodium_mg_per_l": 1500.0},
    ]


@pytest.mark.parametrize(("what", "text", "field", "line"), [
    ("roster", ROSTER.replace("63.4", "634"), "mass_kg", 2),
    ("roster", ROSTER.replace("61,Teo", "6100,Teo"), "number", 2),
    ("roster", ROSTER.replace("height_m", "height"), "height_m", None),
    ("roster", ROSTER.replace("1.84", "tall"), "height_m", 3),
    ("weigh-ins", WEIGH.replace("after", "later"), "moment", 3),
    ("weigh-ins", WEIGH.replace("3;61;before", "x;61;before"), "stage", 2),
    ("drinks", "name,short_name,sodium_mg_per_l\nX,X,9999\n", "sodium_mg_per_l", 2),
    ("drinks", "name,short_name,sodium_mg_per_l\n", "rows", None),
    ("secrets", ROSTER, "what", None),
])
def test_what_cannot_be_is_named(what, text, field, line):
    with pytest.raises(FileProblem) as caught:
        read_table(what, text)

    assert (caught.value.field, caught.value.line) == (field, line)
    assert caught.value.limit
