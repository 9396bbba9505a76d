"""A phone's token changes by itself in a real browser, with two tabs open, and the old one opens nothing any more."""

import httpx
from browser.conftest import PHONE
from support.pages import SYNC_LIMIT_MS, Phone
from support.team import rider_link

SESSION = """async (age) => {
  const open = indexedDB.open("brinebook");
  const db = await new Promise((done) => { open.onsuccess = () => done(open.result); });
  const tx = db.transaction("meta", "readwrite"), store = tx.objectStore("meta");
  const asked = store.get("session");
  const session = await new Promise((done) => { asked.onsuccess = () => done(asked.result); });
  if (age > 0) store.put({ ...session, tokenAtMs: Date.now() - age }, "session");
  await new Promise((done) => { tx.oncomplete = done; });
  db.close();
  return [session.token, session.tokenBefore ?? ""];
}"""
"""Read the tokens on the disk, and make the present one ``age`` ms old."""
EIGHT_DAYS_MS = 8 * 86_400_000
IS_CHANGED = f"async (old) => (await ({SESSION})(0))[0] !== old"


def _opens(server, token):
    headers = {"Authorization": f"Bearer {token}"}
    return httpx.get(f"{server.base_url}/api/me", headers=headers, timeout=20).status_code == 200


def test_a_week_old_token_is_changed_kept_before_it_is_used_and_ends_the_old_one(own_team, browser):
    server, admin = own_team
    page = browser.new_context(**PHONE).new_page()
    rider = Phone(page)
    rider.join(rider_link(admin, server))
    rider.expect_road()
    rider.expect_linked()
    known = set(admin.events)
    old, _ = page.evaluate(SESSION, EIGHT_DAYS_MS)
    other = page.context.new_page()
    other.goto(f"{server.base_url}/#/road")
    second = Phone(other)
    second.expect_road()
    second.expect_linked()
    other.wait_for_function(IS_CHANGED, arg=old, timeout=SYNC_LIMIT_MS)
    new, before = page.evaluate(SESSION, 0)
    assert (before, new != old) == (old, True)

    rider.drink_down_to("½")
    rider.expect_linked()
    second.drink_down_to("½", cage="Seat tube")
    second.expect_linked()
    assert _opens(server, new)
    assert not _opens(server, old)
    admin.settled()
    assert len([one for id_, one in admin.events.items() if id_ not in known and one["kind"] == "drank"]) == 2
    assert page.evaluate(SESSION, 0)[0] == new
    page.context.close()
