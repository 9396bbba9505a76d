"""A phone that two of the staff share: who holds it is asked, shown and kept apart, with and without a network."""

import re
import time

import pytest
from browser.conftest import PHONE
from browser.test_screens import AXE, CONTROLS, SMALL_TARGETS, TAGS, THEMES
from playwright.sync_api import expect
from support.pages import CONTROLLED, SYNC_LIMIT_MS, sign_in
from support.team import MATE, RIDER, rider_link, staff_link

from seed_demo.squad import RIDERS

IDA, BORIS = "Ida Lindqvarn", "Boris Temmer"
QUESTION = "Who is holding this phone?"
NUMBERS = {card.id: str(card.race_number) for card in RIDERS}
KEPT = "async () => (await (await caches.open('brinebook-kept')).keys()).map(({ url }) => new URL(url).pathname)"
BOOKS = "async () => (await indexedDB.databases()).map(({ name }) => name).sort()"
NEXT_DAY_S = 24 * 3600
HELD = "JSON.parse(localStorage.getItem('brinebook.holder')).id"
EVERY_BOOK = """async () => {
  const all = [];
  for (const { name } of await indexedDB.databases()) {
    const db = await new Promise((done) => {
      const asked = indexedDB.open(name);
      asked.onsuccess = () => done(asked.result);
    });
    for (const shelf of db.objectStoreNames) {
      all.push(await new Promise((done) => {
        const asked = db.transaction(shelf).objectStore(shelf).getAll();
        asked.onsuccess = () => done(asked.result);
      }));
    }
    db.close();
  }
  return JSON.stringify(all);
}"""
EVERYWHERE_ELSE = """async () => {
  const all = [JSON.stringify(localStorage), JSON.stringify(sessionStorage)];
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const asked of await cache.keys()) {
      if (!asked.url.includes("/assets/")) all.push(asked.url, await (await cache.match(asked)).text());
    }
  }
  return all.join(" ");
}"""


class Shared:
    """One browser with an authenticator of its own, in the hands of one person after the other."""

    def __init__(self, browser, server, admin):
        self.server, self.admin = server, admin
        self.context = browser.new_context(**PHONE)
        self.page = self.context.new_page()
        self.cdp = self.context.new_cdp_session(self.page)
        self.cdp.send("WebAuthn.enable")
        self.authenticator = self.cdp.send("WebAuthn.addVirtualAuthenticator", {"options": {
            "protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
            "isUserVerified": True, "automaticPresenceSimulation": True,
        }})["authenticatorId"]

    def verifies(self, is_verified: bool) -> None:
        """Let the finger on the sensor be the right one, or not."""
        told = {"authenticatorId": self.authenticator, "isUserVerified": is_verified}
        self.cdp.send("WebAuthn.setUserVerified", told)

    def go(self, where: str) -> None:
        self.page.goto(f"{self.server.base_url}/#/{where}")

    def join(self, role: str, name: str) -> None:
        """Let one more person of the staff come in."""
        self.page.goto(staff_link(self.admin, self.server, role, name))
        self.page.get_by_role("button", name="Join", exact=True).click()
        self.page.wait_for_url(lambda url: "#/join/" not in url)
        expect(self.page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)

    def expect_noting(self, name: str) -> None:
        """The band says in whose name."""
        band = self.page.get_by_role("group", name=QUESTION)
        expect(band).to_contain_text(f"{name} is noting", timeout=SYNC_LIMIT_MS)

    def ask(self) -> None:
        self.page.get_by_role("button", name="Hand it on").click()
        expect(self.page.get_by_role("heading", name=QUESTION)).to_be_visible(timeout=SYNC_LIMIT_MS)

    def choose(self, name: str) -> None:
        self.page.get_by_role("button", name=name).first.click()

    def hand_to(self, name: str) -> None:
        self.ask()
        self.choose(name)
        self.expect_noting(name)

    def hands_up(self, rider: str) -> None:
        """Note one bottle for a rider."""
        self.go("hand-up")
        self.page.get_by_role("button", name=NUMBERS[rider]).first.click()
        expect(self.page.get_by_role("button", name="Take back").first).to_be_visible(timeout=SYNC_LIMIT_MS)

    def make_passkey(self) -> None:
        self.go("me")
        self.page.get_by_role("button", name="Make a passkey").click()
        expect(self.page.get_by_text("The passkey is kept.")).to_be_visible(timeout=SYNC_LIMIT_MS)

    def is_ready_offline(self) -> None:
        """The worker keeps what the people on this phone need."""
        self.page.evaluate(CONTROLLED)
        until = time.monotonic() + SYNC_LIMIT_MS / 1000
        missing = {"hold", "crew"}
        while missing and time.monotonic() < until:
            missing -= {path.split("/")[2] for path in self.page.evaluate(KEPT) if path.startswith("/assets/")}
            time.sleep(0.1)
        assert not missing


@pytest.fixture(scope="module")
def shared(browser, own_team):
    """Ida, who has a passkey on this phone, and Boris, who has none."""
    phone = Shared(browser, *own_team)
    phone.join("soigneur", IDA)
    phone.make_passkey()
    phone.join("car", BORIS)
    phone.expect_noting(BORIS)
    yield phone
    phone.context.close()


@pytest.fixture
def borrowed(browser, own_team):
    """A phone of a test's own."""
    phone = Shared(browser, *own_team)
    yield phone
    phone.context.close()


def _handed_up(admin, rider):
    admin.settled()
    return [one for one in admin.events.values() if one["kind"] == "handed_up" and one["subject_id"] == rider]


def _fresh(admin, known):
    return [one for one in _handed_up(admin, RIDER) + _handed_up(admin, MATE) if one["id"] not in known]


def test_both_note_without_a_network_and_each_entry_arrives_once_under_its_author(shared, own_team):
    _, admin = own_team
    known = {one["id"] for one in _handed_up(admin, RIDER) + _handed_up(admin, MATE)}
    shared.is_ready_offline()
    shared.context.set_offline(True)
    shared.hands_up(RIDER)
    expect(shared.page.get_by_text("1 held on this phone")).to_be_visible(timeout=SYNC_LIMIT_MS)

    shared.verifies(False)
    shared.ask()
    shared.choose(IDA)
    expect(shared.page.get_by_role("alert")).to_have_text(re.compile("The book stays closed"), timeout=SYNC_LIMIT_MS)
    shared.verifies(True)
    shared.choose(IDA)
    shared.expect_noting(IDA)
    shared.hands_up(MATE)
    shared.hands_up(MATE)
    expect(shared.page.get_by_text("2 held on this phone")).to_be_visible(timeout=SYNC_LIMIT_MS)
    shared.context.set_offline(False)
    expect(shared.page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    until = time.monotonic() + SYNC_LIMIT_MS / 1000
    while len(fresh := _fresh(admin, known)) < 3 and time.monotonic() < until:
        time.sleep(0.2)
    shared.ask()
    expect(shared.page.get_by_text("waits to be passed on")).to_be_hidden(timeout=SYNC_LIMIT_MS)

    people = {one["id"]: one["name"] for one in admin.http.get("/api/invites").json()}
    told = sorted((people[one["by"]], one["subject_id"], one["n"]) for one in fresh)
    devices = {one["id"]: one["member_id"] for one in admin.http.get("/api/team/devices").json()}
    assert [(who, about) for who, about, _ in told] == [(BORIS, RIDER), (IDA, MATE), (IDA, MATE)]
    assert all(devices[one["device_id"]] == one["by"] for one in fresh)


def test_a_second_window_goes_blank_and_asks_when_the_phone_changes_hands(shared):
    shared.page.get_by_role("button", name=f"{IDA} keeps it").click()
    shared.expect_noting(IDA)
    second = shared.context.new_page()
    second.goto(f"{shared.server.base_url}/#/hand-up")
    expect(second.get_by_role("button", name=NUMBERS[RIDER]).first).to_be_visible(timeout=SYNC_LIMIT_MS)
    shared.hand_to(BORIS)

    expect(second.get_by_role("heading", name=QUESTION)).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(second.locator(".tile")).to_have_count(0)
    expect(second.get_by_text(f"{IDA} is noting")).to_have_count(0)
    second.close()


def test_a_new_day_asks_again_and_what_was_half_typed_stays_its_holders(shared):
    page = shared.page
    shared.hand_to(IDA)
    shared.go("weigh-room")
    page.get_by_role("button", name=NUMBERS[MATE]).click()
    page.get_by_label("Body mass", exact=True).fill("66.4")
    page.clock.set_system_time(time.time() + NEXT_DAY_S)
    expect(page.get_by_role("heading", name=QUESTION)).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(page.get_by_label("Body mass", exact=True)).to_be_hidden()
    expect(page.get_by_role("button", name="keeps it")).to_have_count(0)

    shared.verifies(False)
    shared.choose(IDA)
    expect(page.get_by_role("alert")).to_have_text(re.compile("The book stays closed"), timeout=SYNC_LIMIT_MS)
    shared.verifies(True)
    shared.choose(IDA)
    expect(page.get_by_label("Body mass", exact=True)).to_have_value("66.4", timeout=SYNC_LIMIT_MS)

    shared.hand_to(BORIS)
    expect(page.get_by_text("66.4")).to_have_count(0)
    shared.hand_to(IDA)
    left = page.get_by_role("complementary", name="You had typed this and not kept it")
    expect(left).to_contain_text("66.4", timeout=SYNC_LIMIT_MS)
    expect(left).to_contain_text(NUMBERS[MATE])
    left.get_by_role("button", name="Seen").click()
    expect(left).to_be_hidden()


def test_a_phone_opened_the_next_day_without_a_network_asks_before_any_book(shared):
    page = shared.page
    page.clock.set_system_time(time.time() + 2 * NEXT_DAY_S)
    shared.context.set_offline(True)
    page.reload()
    expect(page.get_by_role("heading", name=QUESTION)).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(page.get_by_role("navigation")).to_have_count(0)
    shared.choose(IDA)
    shared.expect_noting(IDA)
    shared.context.set_offline(False)
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)


def test_a_riders_invitation_is_refused_and_stays_good(shared, browser):
    link = rider_link(shared.admin, shared.server)
    shared.page.goto(link)
    shared.page.get_by_role("button", name="Join", exact=True).click()
    why = re.compile("a rider keeps one of his own")
    expect(shared.page.get_by_role("alert")).to_have_text(why, timeout=SYNC_LIMIT_MS)
    shared.go("")
    shared.expect_noting(IDA)

    own = browser.new_context(**PHONE).new_page()
    sign_in(own, link)
    own.goto(f"{shared.server.base_url}/#/me")
    expect(own.get_by_role("heading", name="Who looked")).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(own.get_by_text("Share this phone")).to_have_count(0)
    own.context.close()


def test_the_question_is_for_every_eye_and_thumb(shared):
    page = shared.page
    shared.ask()
    page.evaluate(AXE + ";void 0")
    found = {}
    for size in ((390, 844), (1280, 800)):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        for theme in THEMES:
            page.evaluate("(name) => { document.documentElement.dataset.theme = name; }", theme)
            told = page.evaluate("(tags) => axe.run(document, {runOnly: tags, resultTypes: ['violations']})", TAGS)
            found[size, theme] = [(one["id"], node["target"]) for one in told["violations"] for node in one["nodes"]]
        assert page.evaluate(SMALL_TARGETS, [CONTROLS, 44]) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    page.set_viewport_size(PHONE["viewport"])

    assert found == {key: [] for key in found}
    page.get_by_role("button", name=f"{IDA} keeps it").click()
    shared.expect_noting(IDA)


def test_whoever_leaves_takes_his_own_book_along_and_no_other(shared):
    page = shared.page
    shared.hand_to(BORIS)
    assert page.evaluate(BOOKS) == ["brinebook", page.evaluate(f"() => 'brinebook.' + {HELD}")]
    shared.go("me")
    page.get_by_role("button", name="Leave", exact=True).click()
    page.get_by_role("button", name="Yes, take everything off").click()
    expect(page.get_by_role("heading", name=QUESTION)).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(page.get_by_role("button", name=BORIS)).to_have_count(0)
    assert page.evaluate(BOOKS) == ["brinebook"]

    shared.choose(IDA)
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    shared.go("me")
    expect(page.get_by_role("heading", name=IDA)).to_be_visible(timeout=SYNC_LIMIT_MS)


def test_nothing_of_a_doctors_book_is_left_for_the_next_holder_and_it_opens_by_her_passkey_alone(borrowed, own_team):
    """The marks are a note about a body; they are looked for on screen, in what the page stores and in its caches."""
    _, admin = own_team
    page, mark = borrowed.page, "marked-74917"
    assert admin.exchange(admin.fact("note", RIDER, {"text": mark}))[0]["status"] == "ok"
    borrowed.join("soigneur", "Una Perk")
    borrowed.join("doctor", "Ines Karlund")
    borrowed.go(f"rider/{RIDER}")
    expect(page.get_by_role("heading", name=RIDERS[0].name)).to_be_visible(timeout=SYNC_LIMIT_MS)
    assert mark in page.evaluate(EVERY_BOOK)
    page.evaluate("() => { window.hers = 1; void 0; }")
    borrowed.hand_to("Una Perk")

    assert page.evaluate("() => window.hers ?? null") is None
    assert mark not in page.evaluate(EVERYWHERE_ELSE)
    assert mark not in page.content()
    assert page.title() == "Brinebook"
    admin.http.put("/api/team/step-up", json={"is_asked": True}).raise_for_status()
    borrowed.ask()
    borrowed.choose("Ines Karlund")
    expect(page.get_by_role("alert")).to_have_text(re.compile("there is none"), timeout=SYNC_LIMIT_MS)

    books = page.evaluate(BOOKS)
    hers = next(one for one in admin.http.get("/api/invites").json() if one["name"] == "Ines Karlund")
    page.goto(f"{borrowed.server.base_url}/#/join/{admin.invite(member_id=hers['id'])}")
    page.get_by_role("button", name="Join", exact=True).click()
    borrowed.expect_noting("Ines Karlund")
    assert page.evaluate(BOOKS) == books
    borrowed.make_passkey()
    borrowed.hand_to("Una Perk")
    borrowed.verifies(False)
    borrowed.ask()
    borrowed.choose("Ines Karlund")
    expect(page.get_by_role("alert")).to_have_text(re.compile("The book stays closed"), timeout=SYNC_LIMIT_MS)
    borrowed.verifies(True)
    borrowed.choose("Ines Karlund")
    borrowed.expect_noting("Ines Karlund")
    admin.http.put("/api/team/step-up", json={"is_asked": False}).raise_for_status()


def test_one_whom_the_team_signed_out_is_marked_and_may_let_his_entries_go(borrowed, own_team):
    _, admin = own_team
    page = borrowed.page
    borrowed.join("soigneur", "Nils Harrow")
    borrowed.join("car", "Olga Brandt")
    borrowed.hand_to("Nils Harrow")
    page.evaluate(CONTROLLED)
    borrowed.context.set_offline(True)
    borrowed.hands_up(RIDER)
    expect(page.get_by_text("1 held on this phone")).to_be_visible(timeout=SYNC_LIMIT_MS)
    his = next(one for one in admin.http.get("/api/invites").json() if one["name"] == "Nils Harrow")
    admin.http.delete(f"/api/team/members/{his['id']}/devices").raise_for_status()
    borrowed.hand_to("Olga Brandt")
    borrowed.context.set_offline(False)
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    until = time.monotonic() + SYNC_LIMIT_MS / 1000
    while "isOut" not in page.evaluate("() => localStorage.getItem('brinebook.holders')") and time.monotonic() < until:
        time.sleep(0.2)
    borrowed.ask()
    expect(page.get_by_text("Signed out by the team.")).to_be_visible(timeout=SYNC_LIMIT_MS)
    assert any(one["by"] == his["id"] for one in admin.http.get("/api/team/aside").json())

    borrowed.choose("Nils Harrow")
    borrowed.expect_noting("Nils Harrow")
    borrowed.go("me")
    page.get_by_role("button", name="Leave", exact=True).click()
    page.get_by_role("button", name="Yes, take everything off").click()
    page.get_by_role("button", name="Let 1 entry go and leave").click()
    page.get_by_role("button", name="Yes, let them go").click()
    expect(page.get_by_role("heading", name=QUESTION)).to_be_visible(timeout=SYNC_LIMIT_MS)
    expect(page.get_by_role("button", name="Nils Harrow")).to_have_count(0)
    borrowed.choose("Olga Brandt")
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
    assert "brinebook.unsent" not in page.evaluate("() => Object.keys(localStorage).join(' ')")


def test_a_passkey_brings_its_owner_back_onto_a_shared_phone(borrowed):
    page = borrowed.page
    borrowed.join("soigneur", "Vera Lund")
    borrowed.make_passkey()
    borrowed.join("car", "Olga Brandt, second")
    borrowed.hand_to("Vera Lund")
    borrowed.go("me")
    page.get_by_role("button", name="Leave", exact=True).click()
    page.get_by_role("button", name="Yes, take everything off").click()
    expect(page.get_by_role("heading", name=QUESTION)).to_be_visible(timeout=SYNC_LIMIT_MS)
    page.get_by_role("link", name="Somebody else joins here").click()
    page.get_by_role("button", name="Staff: sign in with a passkey").click()
    borrowed.expect_noting("Vera Lund")
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)
