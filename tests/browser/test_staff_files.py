"""Files at the desk and on a phone: rides and roads in, tables in and out, the evening's report, each one opened."""

import csv
import io
import itertools
import json
import zipfile

import pyarrow.parquet as pq
import pypdfium2
import pytest
from playwright.sync_api import Page, expect
from support.pages import SYNC_LIMIT_MS
from support.ride_files import fit_file, gpx_ride
from support.team import MATE, NEXT_STAGE, RIDER, STAGE

SHARE = """async ([name, bytes]) => {
  const body = new FormData();
  body.append("file", new File([new Uint8Array(bytes)], name, { type: "application/octet-stream" }));
  return (await fetch("/share", { method: "POST", body, redirect: "manual" })).type;
}"""
CONTROLLED = """new Promise((resolve) => {
  if (navigator.serviceWorker.controller) resolve(1);
  else navigator.serviceWorker.addEventListener("controllerchange", () => resolve(1));
})"""


@pytest.fixture(scope="module")
def team(own_team):
    """Bring in files nobody else counts."""
    return own_team


def _open(page: Page, team, route: str) -> Page:
    page.goto(f"{team[0].base_url}/#/{route}")
    return page


def _linked(page: Page) -> None:
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)


def _ride(admin, *, power_w=231, hours=1.0) -> list[tuple]:
    """Ride the first hour of a stage along its own course, one record every ten seconds."""
    stage = admin.body(f"stage:{STAGE}")
    start_s, course = stage["start_at_ms"] // 1000, stage["course"]
    places = [course[min(len(course) - 1, i)] for i in range(round(360 * hours))]
    return [(start_s + 10 * i, power_w, 110.0 * i, at[2], at[3], at[1]) for i, at in enumerate(places)]


def _ridden(admin, rider_id: str) -> list[dict]:
    admin.settled()
    found = [e for e in admin.events.values() if e["kind"] == "ridden" and e["subject_id"] == rider_id]
    return [event["body"] for event in sorted(found, key=lambda event: event["lamport"])]


@pytest.mark.parametrize(("size", "rider_id", "n_before"), [("desk", MATE, 0), ("phone", RIDER, 0)])
def test_a_ride_is_looked_at_beside_what_it_replaces_and_then_kept(team, glass, size, rider_id, n_before):
    _, admin = team
    rider = admin.body(f"rider:{rider_id}")
    expected = admin.body(f"stage_forecast:{rider_id}:{STAGE}")
    page = _open(glass[size], team, "rides")
    page.get_by_role("combobox", name="Stage").select_option(STAGE)
    whole = fit_file(_ride(admin))
    page.get_by_label("Files from the bike computers").set_input_files([
        {"name": f"{rider['name'].split()[-1]}.fit", "mimeType": "application/octet-stream", "buffer": whole},
        {"name": "cut off.fit", "mimeType": "application/octet-stream", "buffer": whole[:-9]},
    ])

    card = page.get_by_role("region", name=f"Recording {rider['name'].split()[-1]}.fit")
    row = card.get_by_role("row").filter(has_text="Mean power")
    expect(row).to_contain_text("231 W", timeout=SYNC_LIMIT_MS)
    expect(row).to_contain_text(f"{expected['mean_power_w']:.0f} W")
    expect(card.get_by_role("row").filter(has_text="Distance")).to_contain_text("39.5 km")
    expect(card.get_by_role("combobox", name="Who rode it")).to_have_value(rider_id)
    broken = page.get_by_role("region", name="Recording cut off.fit")
    broken.get_by_role("combobox", name="Who rode it").select_option(rider_id)
    expect(broken.get_by_role("alert")).to_contain_text("is not taken", timeout=SYNC_LIMIT_MS)
    expect(broken.get_by_role("button", name="Keep this ride")).to_be_disabled()
    assert len(_ridden(admin, rider_id)) == n_before
    card.get_by_role("button", name="Keep this ride").click()
    expect(page.get_by_text(f"{rider['name']}: the ride is kept.")).to_be_visible(timeout=SYNC_LIMIT_MS)

    assert _ridden(admin, rider_id)[-1]["mean_power_w"] == pytest.approx(231.0)
    broken.get_by_role("button", name="Leave it out").click()
    expect(broken).to_have_count(0)


def test_the_two_ends_are_typed_and_a_second_recording_stands_beside_the_first(team, glass):
    _, admin = team
    page = _open(glass["desk"], team, "rides")
    _linked(page)
    page.get_by_role("combobox", name="Stage").select_option(STAGE)
    page.get_by_label("Files from the bike computers").set_input_files(
        {"name": "again.gpx", "mimeType": "application/gpx+xml", "buffer": gpx_ride(_ride(admin, power_w=None))})
    card = page.get_by_role("region", name="Recording again.gpx")
    card.get_by_role("combobox", name="Who rode it").select_option(MATE)

    power = card.get_by_role("row").filter(has_text="Mean power")
    expect(power).to_contain_text("none", timeout=SYNC_LIMIT_MS)
    expect(power).to_contain_text("231 W")
    expect(card.get_by_role("columnheader", name="Recording kept so far")).to_be_visible()
    card.get_by_text("The race began or ended elsewhere").click()
    ends = card.get_by_label("Race ends at")
    ends.fill("half past")
    expect(card.get_by_role("alert")).to_contain_text("no time of day")
    start_ms = admin.body(f"stage:{STAGE}")["start_at_ms"]
    clock = page.evaluate(
        "(at) => new Intl.DateTimeFormat('en-GB', {timeStyle: 'short', timeZone: 'Europe/Paris'}).format(at)",
        start_ms + 1_200_000)
    ends.fill(clock)
    card.get_by_role("button", name="Read it again").click()

    expect(card.get_by_role("row").filter(has_text="Time")).to_contain_text("0 h 20", timeout=SYNC_LIMIT_MS)
    card.get_by_role("button", name="Leave it out").click()
    assert len(_ridden(admin, MATE)) == 1


def test_a_shared_recording_waits_as_it_came_and_becomes_a_ride(team, glass):
    server, admin = team
    page = _open(glass["phone"], team, "rides")
    page.evaluate(CONTROLLED)
    name = admin.body(f"rider:{RIDER}")["name"]
    page.evaluate(SHARE, [f"{name}.fit", list(fit_file(_ride(admin, power_w=199)))])
    page.goto(f"{server.base_url}/#/shared")

    page.get_by_role("combobox", name="Stage").select_option(STAGE)
    expect(page.get_by_role("row").filter(has_text="Mean power")).to_contain_text("199 W", timeout=SYNC_LIMIT_MS)
    page.get_by_role("button", name="Keep this ride").click()
    expect(page.get_by_text("the ride is kept.").first).to_be_visible(timeout=SYNC_LIMIT_MS)

    assert _ridden(admin, RIDER)[-1]["mean_power_w"] == pytest.approx(199.0)
    page.reload()
    expect(page.get_by_text("No file waits here.")).to_be_visible(timeout=SYNC_LIMIT_MS)


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_a_road_nobody_has_a_track_of_is_made_and_planned_by(team, glass, size):
    _, admin = team
    page = _open(glass[size], team, f"race-book/{NEXT_STAGE}")
    page.get_by_text("No track of this road?").click()
    latitude, table = page.get_by_label("Latitude"), page.get_by_label("Table of kilometres and heights")
    course = admin.body(f"stage:{NEXT_STAGE}")["course"]
    expect(latitude).to_have_value(f"{course[0][2]:.2f}")

    table.fill("km;elev_m\n0;120\n10;80,5\n8;90")
    page.get_by_role("button", name="Take the table as the road").click()
    expect(page.get_by_role("alert")).to_contain_text("8", timeout=SYNC_LIMIT_MS)
    expect(table).to_have_value("km;elev_m\n0;120\n10;80,5\n8;90")
    table.fill("km;elev_m\n0;120\n10;80,5\n62,5;640")
    page.get_by_role("button", name="Take the table as the road").click()
    expect(page.get_by_text("Course taken in, 3 points.").first).to_be_visible(timeout=SYNC_LIMIT_MS)
    admin.settled()
    assert admin.body(f"stage:{NEXT_STAGE}")["course"][-1][:2] == [62.5, 640.0]

    page.get_by_role("button", name="Make the road").click()
    expect(page.locator("#made-length-issue")).to_be_visible()
    page.get_by_label("Length", exact=True).fill("171")
    page.get_by_label("Climbing in all").fill("2400")
    page.get_by_role("button", name="Make the road").click()
    expect(page.get_by_text("Course taken in").first).not_to_contain_text("3 points", timeout=SYNC_LIMIT_MS)
    _linked(page)
    admin.settled()
    made = admin.body(f"stage:{NEXT_STAGE}")["course"]
    climbed_m = sum(max(0.0, b[1] - a[1]) for a, b in itertools.pairwise(made))
    assert made[-1][0] == pytest.approx(171.0, abs=0.1)
    assert climbed_m == pytest.approx(2400.0, rel=0.02)


def _taken(page: Page, press: str) -> bytes:
    with page.expect_download(timeout=SYNC_LIMIT_MS) as download:
        page.get_by_role("button", name=press).click()
    return download.value.path().read_bytes()


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_what_is_taken_out_opens_and_says_what_the_book_says(team, glass, size):
    _, admin = team
    _settle_one(admin)
    page = _open(glass[size], team, "files")
    name = admin.body(f"rider:{MATE}")["name"]
    page.get_by_label("What for").fill("evening review")

    def take(form: str, table: str | None = None) -> bytes:
        page.get_by_label("Form", exact=True).select_option(form)
        if table is not None:
            page.get_by_label("Table", exact=True).select_option(table)
        return _taken(page, "Take it out")

    rows = list(csv.DictReader(io.StringIO(take("csv", "settled").decode("utf-8"))))
    mine = next(row for row in rows if row["rider"] == name and row["stage"] == "1")
    assert (mine["mass_before_kg"], mine["state"]) == ("70.0", "settled")
    assert float(mine["agreed_drunk_l"]) == pytest.approx(1.9)
    columns = pq.read_table(io.BytesIO(take("parquet", "settled"))).to_pydict()
    assert columns["agreed_drunk_l"][columns["rider"].index(name)] == pytest.approx(1.9)
    with zipfile.ZipFile(io.BytesIO(take("xlsx"))) as book:
        assert "<f>" not in "".join(book.read(part).decode() for part in book.namelist() if "worksheets" in part)
        assert all(sheet in book.read("xl/workbook.xml").decode() for sheet in ("settled", "facts", "plans"))
        assert name in book.read("xl/sharedStrings.xml").decode()
    told = json.loads(take("json"))
    assert told["purpose"] == "evening review"
    assert json.dumps(told, ensure_ascii=False).count(name) >= 2


def _settle_one(admin) -> None:
    if any(e["kind"] == "agreed" and e["subject_id"] == MATE for e in admin.events.values()):
        return
    start_ms = admin.body(f"stage:{STAGE}")["start_at_ms"]

    def fact(kind, hours, **body):
        return {**admin.fact(kind, MATE, body, stage_id=STAGE), "at_ms": start_ms + int(hours * 3_600_000)}

    admin.exchange(
        fact("weighed", -0.5, moment="before", mass_kg=70.0), fact("weighed", 5, moment="after", mass_kg=68.2),
        fact("handed_up", 0, drink_id="d-standard", volume_l=0.5, n_bottles=4),
        fact("agreed", 6, drunk_l=1.9, proposed_l=2.0, reason="missed_bottle"),
    )
    admin.settled()


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_the_evening_report_is_a_page_that_names_the_riders(team, glass, size):
    _, admin = team
    _settle_one(admin)
    page = _open(glass[size], team, "files")
    _linked(page)
    pdf = pypdfium2.PdfDocument(_taken(page, "Make the PDF"))

    text = "\n".join(sheet.get_textpage().get_text_bounded() for sheet in pdf)
    assert len(pdf) <= 2
    assert admin.body(f"rider:{MATE}")["name"] in text
    assert "Tell the team physician" in text or "physician" in text


TABLES = {
    "roster": ("number,name,mass_kg,height_m,age_years,sex\n{n},Nils {size},66.5,1.8,28,m\n", "rider", "Nils {size}"),
    "drinks": ("name,short_name,sodium_mg_per_l,bottle_l\nClear {size},C{n},{n}0,0.5\n", "drink", "Clear {size}"),
    "weigh-ins": ("stage,number,moment,mass_kg\n2,{rider},before,68.{n}\n", None, None),
}


@pytest.mark.parametrize(("size", "n"), [("desk", 88), ("phone", 89)])
def test_tables_come_in_seen_first_and_bad_ones_stay_in_the_field(team, glass, size, n):
    _, admin = team
    page = _open(glass[size], team, "files")
    _linked(page)
    number = admin.body(f"rider:{RIDER}")["race_number"]
    for kind, (table, type_, name) in TABLES.items():
        text = table.format(n=n, size=size, rider=number)
        heading, row = text.strip().split("\n")
        page.get_by_label("What it is").select_option(kind)
        box = page.get_by_label("Paste a table")
        bad = f"{heading}\n{row}".replace("66.5", "6650").replace(f"{n}0,0.5", "-1,0.5").replace(f"68.{n}", "heavy")
        box.fill(bad)
        page.get_by_role("button", name="Read the table").click()
        expect(page.get_by_role("alert")).to_contain_text("is not taken", timeout=SYNC_LIMIT_MS)
        expect(box).to_have_value(bad)
        expect(page.get_by_role("button", name="Keep it")).to_be_disabled()
        box.fill(text)
        page.get_by_role("button", name="Read the table").click()
        expect(page.get_by_role("region", name="What was read")).to_be_visible(timeout=SYNC_LIMIT_MS)
        page.get_by_role("button", name="Keep it").click()
        expect(page.get_by_text("One row kept.")).to_be_visible(timeout=SYNC_LIMIT_MS)
        _linked(page)
        admin.settled()
        if type_ is not None:
            names = [d["body"]["name"] for d in admin.documents.values() if d["type"] == type_ and d.get("body")]
            assert name.format(size=size) in names
    weighed = [e["body"] for e in admin.events.values() if e["kind"] == "weighed" and e.get("stage_id") == NEXT_STAGE]
    assert f"68.{n}" in {str(body["mass_kg"]) for body in weighed}
