"""What the audit says of answers, of silence and of nonsense; the service is played here."""

import datetime as dt
import json
import urllib.error

import pytest
from audit import __main__ as audit

PINS = [("PyPI", "alpha", "1.0"), ("npm", "@beta/gamma", "2.0")]
TODAY = dt.date(2026, 11, 26)


def answering(*results):
    return lambda _, body: json.dumps({"results": list(results)}).encode() if json.loads(body)["queries"] else b""


def test_the_pins_of_both_locks_are_asked_about():
    found = audit.pins()

    assert {("npm", "preact"), ("PyPI", "litestar")} <= {(kind, name) for kind, name, _ in found}
    assert {kind for kind, _, _ in found} == {"PyPI", "npm"}
    assert len([one for one in found if one[0] == "PyPI"]) > 100
    assert len([one for one in found if one[0] == "npm"]) > 200
    assert all(version[0].isdigit() for _, _, version in found)


def test_a_known_vulnerability_fails_by_name():
    found = audit.ask(PINS, answering({"vulns": [{"id": "X-1"}, {"id": "X-2"}]}, {}))

    assert found == {"PyPI alpha 1.0": ["X-1", "X-2"]}
    assert audit.told(["PyPI", "npm"], found, set()) == (1, "known vulnerabilities: PyPI alpha 1.0 (X-1, X-2)")
    assert audit.told(["PyPI", "npm"], found, {"X-1"})[0] == 1
    assert audit.told(["PyPI", "npm"], found, {"X-1", "X-2"})[0] == 0


def test_none_known_says_who_was_asked():
    assert audit.ask(PINS, answering({}, {})) == {}
    assert audit.told(["PyPI", "npm"], {}, set()) == (0, "asked about PyPI and npm: none known")
    assert audit.told(["npm"], {}, set()) == (0, "asked about npm: none known; not asked about PyPI")


def refused(*_):
    raise urllib.error.URLError("no way there")


@pytest.mark.parametrize("post", [
    refused, lambda *_: b"<html>a proxy</html>", lambda *_: b"{}", lambda *_: b"[]", lambda *_: b'{"results": [{}]}',
    lambda *_: b'{"results": null}',
])
def test_silence_and_nonsense_are_no_clean_bill(post):
    with pytest.raises(audit.NotAsked):
        audit.ask(PINS, post)
    assert audit.told([], {}, set()) == (0, "not asked: no advisory service reachable")


def test_what_was_accepted_counts_again_after_its_day(tmp_path):
    path = tmp_path / "accepted.json"
    path.write_text(json.dumps({"X-1": {"why": "that part is not used", "until": "2026-11-30"}}))

    assert audit.accepted(TODAY, path) == {"X-1"}
    assert audit.accepted(TODAY + dt.timedelta(days=5), path) == set()
    assert all({"why", "until"} == set(one) for one in json.loads(audit.ACCEPTED.read_text()).values())
