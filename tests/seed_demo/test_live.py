"""The seeder and the play against a live server, over HTTP."""

import pytest
from support.live import Client, LiveServer

from seed_demo.load import seed
from seed_demo.play import play

pytestmark = pytest.mark.timeout(600)


@pytest.fixture(scope="module")
def live(tmp_path_factory):
    server = LiveServer(tmp_path_factory.mktemp("demo") / "data")
    server.start()
    yield server
    server.stop()


@pytest.fixture(scope="module")
def admin(live):
    client = Client(live.base_url, live.invite_admin())
    yield client
    client.close()


@pytest.fixture(scope="module")
def links(live, admin):
    return seed(live.base_url, admin.token)


def test_the_seed_gives_one_link_per_role(links):
    assert set(links) == {"rider", "physiologist", "soigneur", "car", "coach", "doctor"}
    assert all("/#/join/" in link for link in links.values())


def test_a_second_start_keeps_what_was_entered(live, admin, links):
    admin.exchange()
    drink = {**admin.body("drink:d-standard"), "name": "Our standard mix"}
    admin.http.put("/api/drinks/d-standard", json=drink).raise_for_status()
    n_facts, n_members = len(admin.events), len(admin.http.get("/api/invites").json())

    again = seed(live.base_url, admin.token)
    admin.exchange()

    assert set(again) == set(links)
    assert admin.body("drink:d-standard")["name"] == "Our standard mix"
    assert len(admin.events) == n_facts
    assert len(admin.http.get("/api/invites").json()) == n_members


def test_a_played_stage_loses_and_doubles_nothing(live, admin, links):
    told = play(live.base_url, admin.token, n_stages=1)
    totals = told["totals"]

    assert links
    assert totals["events_made"] == totals["events_stored"] > 100
    assert totals["events_lost"] == totals["events_doubled"] == totals["sequence_gaps"] == 0
    assert totals["verdicts"]["dup"] > 0
    assert totals["rejected"] == []
    assert len(told["rows"]) == 8
    assert all(row["settled_loss_l"] > 0 and row["planned_l"] > 0 for row in told["rows"])
