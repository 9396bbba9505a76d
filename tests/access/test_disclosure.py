"""Who sees what, through the real API: every role x every type x own, other rider, team, other team."""

import pytest
from brinebook.access import disclosure
from brinebook.records.facts import BODY_BY_KIND
from brinebook.storage.repository import NewDocument
from support.world import ROLES, World, open_world

BODY_ROLES = {"physiologist", "doctor", "admin"}
STAFF = {"soigneur", "car", "physiologist", "coach", "doctor", "admin"}
EVERYBODY = STAFF | {"rider"}
# What a role may see of others; a rider sees all of this about himself, except where OWN says no.
DOCUMENTS = {
    "team": EVERYBODY, "drink": EVERYBODY, "food": EVERYBODY, "stage": EVERYBODY,
    "member": EVERYBODY, "rider": STAFF, "bottle_sheet": STAFF,
    "supply": STAFF, "kit": STAFF, "plan_goals": STAFF, "prep_sheet": STAFF, "stock": STAFF,
    "rider_palate": BODY_ROLES | {"soigneur", "car"},
    "stage_plan": BODY_ROLES, "stage_forecast": BODY_ROLES,
    "plan_summary": {"coach"}, "forecast_summary": {"coach"}, "settlement_summary": {"coach"},
    "rider_body": BODY_ROLES, "profile": BODY_ROLES, "settlement": BODY_ROLES, "evening_drink": BODY_ROLES,
    "stage_total": BODY_ROLES,
    "forecast_audit": BODY_ROLES, "something_new": set(),
}
TEAM_WIDE = {"team", "drink", "food", "stage", "forecast_audit", "supply", "kit", "plan_goals", "prep_sheet", "stock"}
OWN_IS_HIDDEN = {
    "forecast_audit", "something_new", "supply", "kit", "plan_goals", "prep_sheet", "stock",
    "plan_summary", "forecast_summary", "settlement_summary",
}
FACTS = {
    **dict.fromkeys(("drank", "handed_up", "came_back", "poured", "lost", "ate"), STAFF),
    "mix_check": EVERYBODY,
    **dict.fromkeys(("stock_counted", "delivered", "sheet_printed"), STAFF),
    **dict.fromkeys(("weighed", "morning_check", "sweat_sample", "weighed_ride", "ridden"), BODY_ROLES),
    **dict.fromkeys(("note", "agreed", "reopened", "acknowledged", "calibrated"), BODY_ROLES),
    **dict.fromkeys(("team_count", "collection_booked"), STAFF),
    "symptom": {"doctor"}, "something_new": {"doctor"},
}
BODIES = {
    "drank": {"volume_l": 0.2, "how": "level"},
    "handed_up": {"volume_l": 0.5, "drink_id": "d"},
    "came_back": {"left_l": 0.1, "how": "counted"},
    "poured": {"volume_l": 0.1}, "lost": {"volume_l": 0.1}, "ate": {"food_id": "f", "n_units": 1},
    "mix_check": {"drink_id": "d", "sodium_mg_per_l": 900},
    "stock_counted": {"item_id": "d", "n_amount": 3}, "delivered": {"item_id": "d", "n_amount": 3},
    "sheet_printed": {"what": "prep", "sheet_version": 1},
    "weighed": {"moment": "before", "mass_kg": 66}, "morning_check": {"mass_kg": 66},
    "sweat_sample": {
        "site": "dorsal_forearm", "side": "left", "sodium_mmol_per_l": 60, "volume_ul": 80, "area_cm2": 10,
        "collected_min": 30,
    },
    "weighed_ride": {
        "mass_before_kg": 67, "mass_after_kg": 66, "fluid_drunk_l": 0.5, "duration_h": 1.5, "power_w": 200,
        "air_temperature_c": 25, "relative_humidity_frac": 0.5, "air_speed_m_per_s": 8,
    },
    "ridden": {
        "started_at_ms": 1, "duration_h": 4.0, "length_km": 160.0, "work_kj": 3000.0, "file_kind": "fit",
        "along": [[160.0, 4.0, 210.0]],
    },
    "note": {"text": "x"}, "agreed": {"drunk_l": 2.0}, "reopened": {"reason": "x"}, "symptom": {"symptom": "cramp"},
    "acknowledged": {"code": "weigh_again"}, "team_count": {"what": "loaded", "n_bottles": 4, "volume_l": 2.0},
    "calibrated": {
        "analyser": "a", "slope_mv_per_decade": 57.0, "low_mmol_per_l": 10, "high_mmol_per_l": 100,
        "controls": [[25, 25.5, 26]],
    },
    "collection_booked": {"on_ms": 1782129600000, "rider_ids": ["r1"]},
    "something_new": {},
}
WRITERS = {
    **dict.fromkeys(
        ("drank", "handed_up", "came_back", "poured", "lost", "ate", "mix_check", "stock_counted", "delivered",
         "sheet_printed"),
        BODY_ROLES | {"soigneur", "car"},
    ),
    "weighed": BODY_ROLES | {"soigneur"}, "morning_check": BODY_ROLES | {"soigneur"},
    "sweat_sample": BODY_ROLES, "weighed_ride": BODY_ROLES, "ridden": BODY_ROLES, "note": STAFF, "something_new": STAFF,
    **dict.fromkeys(("acknowledged", "calibrated", "collection_booked"), BODY_ROLES),
    "team_count": BODY_ROLES | {"soigneur", "car"},
    "agreed": {"physiologist", "admin"}, "reopened": {"physiologist", "admin"}, "symptom": {"doctor"},
}
BY_THE_SERVER = {"erase", "erased"}
NOT_BY_THE_RIDER = {
    "agreed", "reopened", "stock_counted", "delivered", "sheet_printed", "acknowledged", "calibrated",
    "collection_booked", "team_count",
}


def _author(kind: str) -> str:
    return "doctor" if kind == "symptom" else "admin"


class Stocked:
    """A world in which every type exists about r1, r2, the other team's rider and the team."""

    def __init__(self, world: World):
        self.world = world
        self.phones = {role: world.join("red", role) for role in ROLES}
        self.phones["rider"] = world.join("red", "rider", "r1")
        self.foreign = {role: world.join("blue", role) for role in ROLES}
        self.ids: dict[tuple[str, str], str] = {}
        for kind, body in BODIES.items():
            for subject_id in ("r1", "r2"):
                phone = self.phones[_author(kind)]
                event = phone.fact(kind, subject_id, body)
                assert phone.exchange(event)[0]["status"] == "ok", kind
                self.ids[kind, subject_id] = event["id"]
        for team_id, subjects in (("red", ("r1", "r2")), ("blue", ("b1",))):
            world.repository.put_documents(team_id, self._documents(subjects))
        for phone in [*self.phones.values(), *self.foreign.values()]:
            phone.exchange()

    @staticmethod
    def _documents(subjects):
        for type_ in DOCUMENTS:
            if type_ in TEAM_WIDE:
                yield NewDocument(id=f"{type_}:t", type=type_, subject_id="", body=b'{"canary":1}')
                continue
            for subject_id in subjects:
                yield NewDocument(
                    id=f"{type_}:x{subject_id}", type=type_, subject_id=subject_id, body=b'{"canary":1}',
                )


@pytest.fixture(scope="module")
def stocked(tmp_path_factory):
    for world in open_world(tmp_path_factory.mktemp("disclosure")):
        yield Stocked(world)


def test_the_table_and_this_page_know_the_same_types():
    corrections = {"amend", "void", "link", "unlink", "contested"}

    assert set(disclosure.DOCUMENT_READERS) == set(DOCUMENTS) - {"something_new"}
    assert set(BODY_BY_KIND) - corrections == set(FACTS) - {"something_new"}
    assert set(disclosure.FACT_READERS) - BY_THE_SERVER == set(FACTS) - {"something_new"}
    assert set(disclosure.FACT_WRITERS) - {"contested"} - BY_THE_SERVER == set(FACTS) - {"something_new"}


@pytest.mark.parametrize("kind", sorted(BY_THE_SERVER))
@pytest.mark.parametrize("role", sorted(EVERYBODY))
def test_nobody_states_what_only_the_server_states(stocked, role, kind):
    phone = stocked.phones[role]

    verdict = phone.exchange(phone.fact(kind, "r1"))[0]

    assert (verdict["status"], verdict["code"]) == ("rejected", "not_yours")


@pytest.mark.parametrize("type_", sorted(DOCUMENTS))
@pytest.mark.parametrize("role", sorted(EVERYBODY))
def test_a_document_reaches_those_who_may_see_it_and_nobody_else(stocked, role, type_):
    made = {f"{type_}:{name}" for name in ("t", "xr1", "xr2", "xb1")}
    seen = made & set(stocked.phones[role].documents)
    expected = set()
    if type_ in TEAM_WIDE and role in DOCUMENTS[type_]:
        expected = {f"{type_}:t"}
    elif type_ not in TEAM_WIDE:
        expected = {f"{type_}:x{subject}" for subject in ("r1", "r2") if role in DOCUMENTS[type_]}
        if role == "rider" and type_ not in OWN_IS_HIDDEN:
            expected |= {f"{type_}:xr1"}

    assert seen == expected


@pytest.mark.parametrize("type_", sorted(DOCUMENTS))
@pytest.mark.parametrize("role", sorted(EVERYBODY))
def test_why_opens_exactly_what_the_exchange_shows(stocked, role, type_):
    phone = stocked.phones[role]
    for id_ in (f"{type_}:t", f"{type_}:xr1", f"{type_}:xr2", f"{type_}:xb1"):
        assert (phone.get(f"/api/why/{id_}").status_code == 200) == (id_ in phone.documents)


@pytest.mark.parametrize("kind", sorted(FACTS))
@pytest.mark.parametrize("role", sorted(EVERYBODY))
def test_a_fact_reaches_those_who_may_see_it_and_nobody_else(stocked, role, kind):
    seen = {subject for subject in ("r1", "r2") if stocked.ids[kind, subject] in stocked.phones[role].events}
    expected = {subject for subject in ("r1", "r2") if role in FACTS[kind]} | ({"r1"} if role == "rider" else set())

    assert seen == expected


@pytest.mark.parametrize("kind", sorted(FACTS))
@pytest.mark.parametrize("role", sorted(EVERYBODY))
def test_a_fact_is_taken_from_those_who_may_state_it_and_nobody_else(stocked, role, kind):
    phone = stocked.phones[role]
    for subject_id in ("r1", "r2"):
        is_own = role == "rider" and subject_id == "r1" and kind not in NOT_BY_THE_RIDER
        expected = "ok" if role in WRITERS[kind] or is_own else "rejected"
        assert phone.exchange(phone.fact(kind, subject_id, BODIES[kind]))[0]["status"] == expected


@pytest.mark.parametrize("role", ROLES)
def test_nothing_of_another_team_is_ever_seen(stocked, role):
    foreign = stocked.foreign[role]

    assert foreign.events == {}
    assert not [one for one in foreign.documents.values() if one["subject_id"] in {"r1", "r2"}]
    assert not [id_ for id_ in stocked.phones[role].documents if id_.endswith("b1")]


@pytest.mark.parametrize("role", sorted(EVERYBODY))
def test_only_the_physiologist_and_the_admin_edit_plan_publish_and_invite(stocked, role):
    phone = stocked.phones[role]
    answers = [
        phone.put(f"/api/drinks/d-{role}", {"id": f"d-{role}", "name": "D", "short_name": "D", "sodium_mg_per_l": 1}),
        phone.post("/api/invites", {"role": "coach", "name": "C"}),
        phone.get("/api/invites"),
    ]
    refused = [
        phone.post("/api/stages/none/publish"), phone.post("/api/stages/none/plan"),
        phone.post("/api/stages/none/course"), phone.post("/api/stages/none/forecast"),
    ]
    may = role in {"physiologist", "admin"}

    assert {answer.status_code for answer in answers} == ({200} if may else {403})
    assert {answer.status_code for answer in refused} == ({404} if may else {403})
