"""Who else is at the table: told to those at the same one, forgotten soon, for those who settle alone."""

from brinebook.api.presence import FORGOTTEN_AFTER_MS, Place, Tables


def test_two_people_at_one_table_see_each_other_and_nobody_sees_another_team(world):
    ana, ben = world.join("red", "physiologist"), world.join("red", "doctor")
    stranger = world.join("blue", "physiologist")
    stranger.post("/api/presence", {"stage_id": "s1", "rider_id": "b1", "column": "up"})

    first = ana.post("/api/presence", {"stage_id": "s1", "rider_id": "r1", "column": "agreed"}).json()
    second = ben.post("/api/presence", {"stage_id": "s1", "rider_id": "r2", "column": "up"}).json()
    elsewhere = ben.post("/api/presence", {"stage_id": "s2"}).json()

    assert first["others"] == []
    assert [(one["member_id"], one["rider_id"], one["column"]) for one in second["others"]] == [
        (ana.member["id"], "r1", "agreed"),
    ]
    assert elsewhere["others"] == []


def test_a_rider_is_not_told_who_settles(world):
    rider = world.join("red", "rider", "r1")

    assert rider.post("/api/presence", {"stage_id": "s1"}).status_code == 403


def test_who_says_nothing_for_a_while_is_forgotten():
    now = [0]
    tables = Tables(lambda: now[0])
    tables.sit("red", ("ana", "Ana"), Place(stage_id="s1"))

    now[0] = FORGOTTEN_AFTER_MS

    assert tables.sit("red", ("ben", "Ben"), Place(stage_id="s1")) == []
