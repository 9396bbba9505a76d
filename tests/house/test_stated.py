"""What the map states of sessions and of classes of data is what the code does."""

import re

import pytest
from brinebook.access import devices, disclosure, invites, passkeys
from brinebook.access.roles import ALL_ROLES
from house.tree import ROOT

TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")
LIFETIMES = [
    ("a rider's device, unused", f"{devices.life_ms('rider') / devices.DAY_MS:g} days"),
    ("a staff device, unused", f"{devices.life_ms('doctor') / devices.DAY_MS:g} days"),
    ("a shown passkey, for others' bodies", f"{passkeys.VERIFIED_MINUTES} min"),
    ("an invitation, once", f"{invites.LIFE_MS / 3_600_000:g} h"),
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
