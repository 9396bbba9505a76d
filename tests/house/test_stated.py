"""What the map states of sessions and of classes of data is what the code does."""

import re

import pytest
from brinebook.access import devices, disclosure, invites, passkeys, retention
from brinebook.access.roles import ALL_ROLES
from brinebook.api import live
from house.tree import ROOT

TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")
LIFETIMES = [
    ("a rider's device, unused", f"{devices.life_ms('rider') / devices.DAY_MS:g} days"),
    ("a staff device, unused", f"{devices.life_ms('doctor') / devices.DAY_MS:g} days"),
    ("a shown passkey, for others' bodies", f"{passkeys.VERIFIED_MINUTES} min"),
    ("an invitation, once", f"{invites.LIFE_MS / 3_600_000:g} h"),
    ("one that takes the place of lost passkeys", f"{invites.FACE_TO_FACE_MS / 60_000:g} min"),
    ("a live stream after its right has ended", f"{live.LOOK_S:g} s"),
    ("a lost reply to it, for the same device", f"{invites.FORGIVEN_MS / 60_000:g} min"),
    ("a challenge", f"{passkeys.CHALLENGE_MINUTES} min"),
]


def _classes():
    section = TEXT.split("### Classes of data", 1)[1].split("###", 1)[0]
    for what, readers in re.findall(r"^\| \w+ \| (`.*) \| (.*) \|$", section, flags=re.MULTILINE):
        roles = {"all": ALL_ROLES, "nobody": frozenset()}.get(readers) or frozenset(readers.split(", ")) - {"nobody"}
        for type_ in re.findall(r"`(\w+)`", what):
            yield type_, roles


@pytest.mark.parametrize(("what", "lives"), LIFETIMES)
def test_lifetimes_are_those_of_the_code(what, lives):
    assert f"| {what} | {lives} |" in TEXT


def test_classes_of_data_are_those_of_the_code():
    stated = list(_classes())
    tables = {**disclosure.DOCUMENT_READERS, **disclosure.FACT_READERS}

    assert len(stated) == len(dict(stated))
    assert dict(stated) == {type_: one.roles for type_, one in tables.items()}
    assert disclosure.FACT_READERS["symptom"] == disclosure.UNKNOWN_FACT_READERS


def test_months_by_kind_are_those_of_the_code():
    section = TEXT.split("### Months by kind", 1)[1].split("###", 1)[0]
    rows = re.findall(r"^\| (?:(\d+) months|for ever, and empty) \| (`.*) \|$", section, flags=re.MULTILINE)
    stated = {kind: int(months) if months else None for months, kinds in rows for kind in re.findall(r"`(\w+)`", kinds)}
    said = {words: int(months) for months, words in rows if months and ", and" in words}

    assert stated == dict(retention.KEPT_MONTHS)
    assert {"does not know" in words: months for words, months in said.items()} == {
        True: retention.OTHER_MONTHS, False: retention.ASIDE_MONTHS,
    }
