"""The suite every repository passes; ``contract`` in a test module's name space runs it there."""

import threading

import msgspec
import pytest
from brinebook import clock
from brinebook.records.edited import Drink, Member, Rider, Stage, Team
from brinebook.records.facts import Event
from brinebook.storage.errors import NotFound, StorageConflict
from brinebook.storage.keys import Passkey
from brinebook.storage.ledger import Erasure
from brinebook.storage.repository import Device, Invite, NewDocument, NewEvent, Repository, Subscription

HASH = "0" * 64
AT_MS = 1_790_000_000_000
"""An instant of the size real ones have: more than 32 bits."""


def new_event(subject_id="r1", kind="drank", **changes):
    event = Event(
        id=clock.new_id(), kind=kind, subject_id=subject_id, by="m", device_id="d", n=1, lamport=1, at_ms=1,
        body=msgspec.Raw(b'{"volume_l":0.2,"how":"level"}'),
    )
    event = msgspec.structs.replace(event, **changes)
    raw = msgspec.json.encode(event)
    return NewEvent(event=event, raw=raw, sha=event.id[-6:], disclosed_as=kind, received_at_ms=AT_MS)


def new_document(id_="profile:r1", body=b"{}", type_="profile"):
    return NewDocument(id=id_, type=type_, subject_id=id_.split(":")[1], body=body)


class RepositoryContract:
    """Subclasses give a ``repository`` fixture that holds the teams ``red`` and ``blue``."""

    repository: Repository

    @pytest.fixture(autouse=True)
    def _given(self, repository: Repository):
        self.repository = repository
        for team_id in ("red", "blue"):
            repository.add_team(Team(id=team_id, version=1, name=team_id, race_name="Race"))

    def test_sequence_numbers_run_from_one_without_gaps(self):
        for n_events in (1, 3, 2):
            self.repository.add_events("red", [new_event() for _ in range(n_events)])

        assert [event.seq for event in self.repository.events_after("red", 0, 100)] == [1, 2, 3, 4, 5, 6]
        assert self.repository.head("red") == 6
        assert self.repository.head("blue") == 0

    def test_many_writers_leave_no_gap_and_no_double(self):
        def write():
            for _ in range(10):
                self.repository.add_events("red", [new_event(), new_event()])

        writers = [threading.Thread(target=write) for _ in range(6)]
        for writer in writers:
            writer.start()
        for writer in writers:
            writer.join()

        assert [event.seq for event in self.repository.events_after("red", 0, 1000)] == list(range(1, 121))

    def test_what_a_failed_transaction_wrote_is_not_there(self):
        with pytest.raises(KeyError), self.repository.transaction():
            self.repository.add_events("red", [new_event()])
            self.repository.put_documents("red", [new_document()])
            raise KeyError

        assert (self.repository.head("red"), self.repository.document("red", "profile:r1")) == (0, None)
        assert self.repository.add_events("red", [new := new_event()]) == {new.event.id: 1}

    def test_a_snapshot_sees_one_state(self):
        self.repository.add_events("red", [new_event()])

        with self.repository.snapshot():
            before = self.repository.head("red")
            other = threading.Thread(target=self.repository.add_events, args=("red", [new_event()]))
            other.start()
            other.join()
            assert self.repository.head("red") == before == 1
        assert self.repository.head("red") == 2

    def test_raw_bytes_come_back_as_they_were(self):
        new = new_event()
        kept = msgspec.structs.replace(new, raw=new.raw[:-1] + b', "newer": [1]}')
        self.repository.add_events("red", [kept])

        assert self.repository.events_after("red", 0, 1)[0].raw == kept.raw

    def test_events_are_read_by_subject_and_team(self):
        mine, other, foreign = new_event(), new_event("r2"), new_event()
        self.repository.add_events("red", [mine, other])
        self.repository.add_events("blue", [foreign])

        assert self.repository.events_for_subject("red", "r1") == [mine.event]
        assert self.repository.events_for_team("red") == [mine.event, other.event]
        assert self.repository.events_by_id("red", [mine.event.id, foreign.event.id]) == {mine.event.id: mine.event}
        assert set(self.repository.known_events("red", [mine.event.id, foreign.event.id])) == {mine.event.id}

    def test_the_same_id_may_live_in_two_teams(self):
        new = new_event()

        assert self.repository.add_events("red", [new]) == self.repository.add_events("blue", [new])

    def test_digests_count_and_mix_the_ids(self):
        first, second, third = new_event(), new_event(), new_event("r2")
        self.repository.add_events("red", [first])
        self.repository.add_events("red", [second, third])

        digests = {digest.subject_id: digest for digest in self.repository.digests("red")}

        assert (digests["r1"].n_events, digests["r2"].n_events) == (2, 1)
        assert digests["r1"].xor64 not in {0, digests["r2"].xor64}

    def test_a_body_kept_aside_is_kept_once(self):
        new = new_event()

        self.repository.quarantine("red", [new], "conflict")
        self.repository.quarantine("red", [new], "conflict")

        assert (self.repository.n_quarantined("red"), self.repository.n_quarantined("blue")) == (1, 0)

    def test_what_stands_aside_is_listed_by_reason_until_it_stands_aside_no_more(self):
        first, second = new_event(), new_event()
        self.repository.quarantine("red", [first, second], "revoked")
        self.repository.quarantine("blue", [new_event()], "revoked")

        found = self.repository.aside("red", "revoked")
        assert [one.raw for one in found] == [first.raw, second.raw]
        self.repository.mark_aside("blue", found[0].n, None)
        self.repository.mark_aside("red", found[0].n, None)
        self.repository.mark_aside("red", found[1].n, "left")

        assert (self.repository.aside("red", "revoked"), self.repository.n_quarantined("red")) == ([], 1)
        assert [one.raw for one in self.repository.aside("red", "left")] == [second.raw]

    def test_a_passkey_is_found_by_its_id_and_a_challenge_is_answered_once(self):
        key = Passkey(
            id="k1", team_id="red", member_id="m1", rp_id="book.example", public_key=b"\x00\xff", n_signed=0,
            name="desk", made_at_ms=1, used_at_ms=1,
        )
        self.repository.put_passkey(key)
        self.repository.put_passkey(msgspec.structs.replace(key, n_signed=7))

        assert self.repository.passkey("k1") == msgspec.structs.replace(key, n_signed=7)
        assert self.repository.passkey("k2") is None
        assert self.repository.passkeys_of("blue", "m1") == []
        assert self.repository.delete_passkeys("red", "m2") == 0
        assert [self.repository.use_challenge("s", 100, now_ms) for now_ms in (50, 99, 101)] == [True, False, True]
        assert self.repository.delete_passkeys("red", "m1", "k1") == 1
        assert self.repository.passkeys_of("red", "m1") == []

    def test_an_unchanged_document_keeps_its_place(self):
        assert self.repository.put_documents("red", [new_document(), new_document("profile:r2")]) == [
            "profile:r1", "profile:r2",
        ]
        head = self.repository.document_head("red")

        changed = self.repository.put_documents("red", [new_document(), new_document("profile:r2", b'{"a":1}')])

        assert changed == ["profile:r2"]
        assert self.repository.document_head("red") == head + 1
        assert [one.id for one in self.repository.documents_after("red", head, 10)] == ["profile:r2"]

    def test_a_deleted_document_leaves_a_tombstone_with_a_new_place(self):
        self.repository.put_documents("red", [new_document()])
        head = self.repository.document_head("red")

        self.repository.delete_documents("red", ["profile:r1", "profile:none"])
        self.repository.delete_documents("red", ["profile:r1"])

        assert self.repository.document("red", "profile:r1") is None
        assert self.repository.documents("red", "profile") == []
        assert [(one.id, one.body) for one in self.repository.documents_after("red", head, 9)] == [("profile:r1", None)]

    def test_a_document_may_come_back(self):
        self.repository.put_documents("red", [new_document()])
        self.repository.delete_documents("red", ["profile:r1"])

        assert self.repository.put_documents("red", [new_document()]) == ["profile:r1"]

    def test_documents_are_listed_by_type_and_team(self):
        self.repository.put_documents("red", [new_document(), new_document("stage_plan:r1:s1", type_="stage_plan")])

        assert [one.id for one in self.repository.documents("red", "stage_plan")] == ["stage_plan:r1:s1"]
        assert self.repository.documents("blue", "stage_plan") == []

    def test_an_edited_record_comes_back_and_is_a_document(self):
        rider = Rider(id="r1", version=3, name="L. Aalto", race_number=7)
        self.repository.put_edited("red", rider)

        assert self.repository.edited("red", Rider, "r1") == rider
        assert self.repository.edited("blue", Rider, "r1") is None
        assert self.repository.edited("red", Drink, "r1") is None
        assert self.repository.all_edited("red", Rider) == [rider]
        kept = self.repository.document("red", "rider:r1")
        assert kept is not None
        assert kept.subject_id == "r1"

    def test_a_long_course_reaches_phones_thinned_and_stays_whole_here(self):
        course = [[place / 10, 100.0, 45.0, 6.0] for place in range(2000)]
        given = {
            "id": "s1", "version": 1, "number": 1, "day_index": 1, "name": "S", "kind": "flat", "start_at_ms": 1,
            "time_zone": "Europe/Paris", "course": course,
        }
        stage = msgspec.convert(given, Stage)
        self.repository.put_edited("red", stage)

        sent = msgspec.json.decode(self.repository.document("red", "stage:s1").body, type=Stage)

        assert self.repository.edited("red", Stage, "s1") == stage
        assert len(sent.course) == 300
        assert (sent.course[0], sent.course[-1]) == (stage.course[0], stage.course[-1])

    def test_people_are_found_by_team(self):
        member = Member(id="m1", version=1, name="M", role="coach")
        self.repository.put_member("red", member)

        assert self.repository.member("red", "m1") == member
        assert self.repository.members("blue") == []
        with pytest.raises(NotFound):
            self.repository.member("blue", "m1")
        with pytest.raises(NotFound):
            self.repository.team("green")
        assert self.repository.team_ids() == ["blue", "red"]

    def test_devices_are_found_by_the_hash_of_their_token(self):
        device = Device(
            id="d1", team_id="red", member_id="m1", name="phone", token_sha=HASH, device_key_sha="",
            expires_at_ms=AT_MS,
        )
        self.repository.put_device(device)
        self.repository.put_device(msgspec.structs.replace(device, is_revoked=True))

        found = self.repository.device_by_token(HASH)

        assert found == msgspec.structs.replace(device, is_revoked=True)
        assert self.repository.device("red", "d1") == found
        assert (self.repository.device("blue", "d1"), self.repository.device_by_token("u")) == (None, None)

    def test_a_members_devices_are_those_not_revoked(self):
        first = Device(
            id="d1", team_id="red", member_id="m1", name="phone", token_sha=HASH, device_key_sha="",
            expires_at_ms=9,
        )
        others = [
            msgspec.structs.replace(first, id="d2", token_sha="t2", is_revoked=True),  # noqa: S106
            msgspec.structs.replace(first, id="d3", token_sha="t3", member_id="m2"),  # noqa: S106
            msgspec.structs.replace(first, id="d4", token_sha="t4"),  # noqa: S106
        ]
        for device in (first, *others):
            self.repository.put_device(device)

        assert [device.id for device in self.repository.devices_of("red", "m1")] == ["d1", "d4"]
        assert self.repository.devices_of("blue", "m1") == []

    def test_invitations_are_found_by_either_hash(self):
        invite = Invite(id="i", team_id="red", member_id="m", secret_sha=HASH, code_sha="c", expires_at_ms=AT_MS)
        self.repository.put_invite(invite)
        claimed = msgspec.structs.replace(invite, claimed_at_ms=AT_MS, claimed_key_sha="k", device_id="d")
        self.repository.put_invite(claimed)

        assert self.repository.invite_by_hash(HASH) == self.repository.invite_by_hash("c") == claimed
        assert self.repository.invite_by_hash("x") is None

    def test_a_device_has_one_wake_up_address(self):
        first = Subscription(
            device_id="d", team_id="red", member_id="m", role="rider", rider_id="r1", endpoint="https://a", p256dh="p",
            auth="a",
        )
        second = msgspec.structs.replace(first, endpoint="https://b")
        self.repository.put_subscription(first)
        self.repository.put_subscription(second)

        assert self.repository.subscriptions("red") == [second]
        assert self.repository.subscriptions("blue") == []
        self.repository.delete_subscription("red", "d")
        assert self.repository.subscriptions("red") == []

    def test_what_was_not_computed_is_known(self):
        for team_id in ("red", "blue"):
            self.repository.mark_computed(team_id, self.repository.head(team_id))
        assert self.repository.uncomputed_team_ids() == []

        self.repository.add_events("red", [new_event()])
        assert self.repository.uncomputed_team_ids() == ["red"]
        self.repository.mark_computed("red", 1)
        self.repository.put_edited("red", Rider(id="r1", name="L", race_number=1))
        assert self.repository.uncomputed_team_ids() == ["red"]

    def test_heads_are_those_of_both_sequences(self):
        self.repository.add_events("red", [new_event(), new_event()])
        self.repository.put_documents("red", [new_document()])
        heads = self.repository.heads("red")

        assert (heads.events, heads.documents) == (2, self.repository.document_head("red"))
        assert self.repository.all_heads()["red"] == heads
        assert self.repository.heads("green").events == 0

    def test_a_token_leads_to_its_device_and_member(self):
        member = Member(id="m1", version=1, name="M", role="coach")
        device = Device(
            id="d1", team_id="red", member_id="m1", name="phone", token_sha=HASH, device_key_sha="",
            expires_at_ms=AT_MS,
        )
        self.repository.put_device(device)
        assert self.repository.holder(HASH) is None
        self.repository.put_member("red", member)

        assert self.repository.holder(HASH) == (device, member)
        assert self.repository.holder("1" * 64) is None

    def test_edited_records_are_named_by_type_and_team(self):
        self.repository.put_edited("red", Rider(id="r1", version=1, name="L", race_number=7))

        assert self.repository.edited_ids("red", Rider) == {"r1"}
        assert self.repository.edited_ids("red", Drink) == self.repository.edited_ids("blue", Rider) == frozenset()

    def test_an_erased_subject_leaves_skeletons_and_a_ledger(self):
        mine, other = new_event("r1"), new_event("r2")
        self.repository.add_events("red", [mine, other])
        self.repository.add_events("blue", [foreign := new_event("r1")])
        erasure = Erasure(team_id="red", subject_id="r1", erased_at_ms=AT_MS)

        n_erased = self.repository.erase(erasure, [], new_event("r1", "erase"))

        assert n_erased == 1
        assert self.repository.erased_subjects("red") == {"r1"}
        assert self.repository.erased_subjects("blue") == frozenset()
        assert self.repository.erasures() == [erasure]
        assert self.repository.heads("red").erased == 3
        assert [row.raw for row in self.repository.events_after("red", 0, 2)] == [b"", other.raw]
        assert {one.subject_id: one.n_events for one in self.repository.digests("red")} == {"r2": 1, "r1": 1}
        assert self.repository.events_by_id("red", [mine.event.id]) == {}
        assert [one.kind for one in self.repository.events_for_team("red")] == ["drank", "erase"]
        assert self.repository.events_for_team("blue") == [foreign.event]

    def test_a_batch_judged_before_its_subject_was_erased_is_not_kept(self):
        self.repository.erase(
            Erasure(team_id="red", subject_id="r1", erased_at_ms=AT_MS), [], new_event("r1", "erase"),
        )

        with pytest.raises(StorageConflict):
            self.repository.add_events("red", [new_event("r2"), new_event("r1")])
        assert self.repository.head("red") == 1

    def test_waiting_changes_are_kept_until_they_are_forgotten(self):
        for changed in (b"one", b"two"):
            self.repository.add_waiting("red", changed)
        self.repository.add_waiting("blue", b"three")
        waiting = self.repository.waiting("red")
        self.repository.forget_waiting("red", [waiting[0][0]])

        assert [changed for _, changed in waiting] == [b"one", b"two"]
        assert [changed for _, changed in self.repository.waiting("red")] == [b"two"]
        assert self.repository.n_waiting() == 2

    def test_held_teams_are_written_to_one_after_the_other(self):
        order = []
        is_held = threading.Event()

        def hold() -> None:
            is_held.wait(10)
            with self.repository.transaction():
                self.repository.hold("red")
                order.append("second")

        other = threading.Thread(target=hold)
        other.start()
        with self.repository.transaction():
            self.repository.hold("red")
            is_held.set()
            other.join(0.3)
            order.append("first")
        other.join(10)

        assert order == ["first", "second"]
