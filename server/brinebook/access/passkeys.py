"""
Passkeys (WebAuthn): a person's device signs a challenge after it has looked who holds it.

A challenge is made without being stored: chance and an end, under a keyed hash that ties it to one act and one device.
Only an answered one is noted, so that it works once and nobody can fill the store by asking.
"""

import hashlib
import hmac
import importlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal
from urllib.parse import urlsplit

import msgspec

from brinebook import clock
from brinebook.access.devices import SignedIn, is_own_record, new_device
from brinebook.access.errors import PasskeyRefused, VerifyAgain
from brinebook.access.roles import BODY_READERS
from brinebook.access.tokens import sha
from brinebook.records.edited import Member
from brinebook.storage.errors import NotFound
from brinebook.storage.keys import Passkey
from brinebook.storage.repository import Repository

Act = Literal["register", "verify", "sign_in"]
CHALLENGE_MINUTES = 5
VERIFIED_MINUTES = 60
"""How long somebody who showed who he is may read others' bodies where the team asks for it."""
MINUTE_MS = 60_000
CHANCE_BYTES = 24
END_BYTES = 8
NOBODY = ""
MOST_PASSKEYS = 10


@dataclass(frozen=True)
class Site:
    """The address people reach the server by, and the secret its challenges are made with."""

    origin: str
    server_key: bytes

    @property
    def rp_id(self) -> str:
        """Name the host passkeys are made for."""
        return urlsplit(self.origin).hostname or ""


def _library() -> Any:
    """Fetch the library on first use: nothing else needs it."""
    return importlib.import_module("webauthn")


def _tag(site: Site, act: Act, device_id: str, told: bytes) -> bytes:
    return hmac.new(site.server_key, f"passkey\n{act}\n{device_id}\n".encode() + told, hashlib.sha256).digest()


def challenge(site: Site, act: Act, device_id: str) -> bytes:
    """Make a challenge for one act on one device, good for ``CHALLENGE_MINUTES``."""
    end = clock.now_ms() + CHALLENGE_MINUTES * MINUTE_MS
    told = clock.random_bytes(CHANCE_BYTES) + end.to_bytes(END_BYTES, "big")
    return told + _tag(site, act, device_id, told)


def _answered(site: Site, act: Act, device_id: str, credential: bytes) -> tuple[bytes, int]:
    """Read which challenge an answer is to, and until when that was good; only one of ours passes."""
    helpers = importlib.import_module("webauthn.helpers")
    try:
        response = msgspec.json.decode(credential)["response"]
        given: bytes = helpers.parse_client_data_json(helpers.base64url_to_bytes(response["clientDataJSON"])).challenge
    except Exception as problem:
        raise PasskeyRefused("credential", "what a browser's passkey answers") from problem
    told, tag = given[:CHANCE_BYTES + END_BYTES], given[CHANCE_BYTES + END_BYTES:]
    end = int.from_bytes(told[CHANCE_BYTES:], "big")
    if not hmac.compare_digest(tag, _tag(site, act, device_id, told)) or end <= clock.now_ms():
        raise PasskeyRefused("challenge", f"one this server gave for this, within {CHALLENGE_MINUTES} minutes")
    return given, end


def _use(repository: Repository, given: bytes, end: int) -> None:
    if not repository.use_challenge(sha(given.hex()), end, clock.now_ms()):
        raise PasskeyRefused("challenge", "one that was not answered yet")


def register_options(repository: Repository, site: Site, who: SignedIn) -> str:
    """Ask a device to make a passkey. Whoever has one already shows it first."""
    known = repository.passkeys_of(who.team_id, who.member.id)
    if known:
        must_be_fresh(who)
    library, structs = _library(), importlib.import_module("webauthn.helpers.structs")
    helpers = importlib.import_module("webauthn.helpers")
    person = hmac.new(site.server_key, f"{who.team_id}|{who.member.id}".encode(), hashlib.sha256).digest()
    options = library.generate_registration_options(
        rp_id=site.rp_id, rp_name="Brinebook", user_name=who.member.name, user_id=person,
        challenge=challenge(site, "register", who.device.id),
        authenticator_selection=structs.AuthenticatorSelectionCriteria(
            resident_key=structs.ResidentKeyRequirement.REQUIRED,
            user_verification=structs.UserVerificationRequirement.REQUIRED,
        ),
        exclude_credentials=[
            structs.PublicKeyCredentialDescriptor(id=helpers.base64url_to_bytes(one.id)) for one in known
        ],
    )
    return str(library.options_to_json(options))


def register(repository: Repository, site: Site, who: SignedIn, credential: bytes, name: str) -> Passkey:
    """Keep the passkey a device made; its holder has then shown who he is."""
    given, end = _answered(site, "register", who.device.id, credential)
    try:
        made = _library().verify_registration_response(
            credential=credential.decode(), expected_challenge=given, expected_rp_id=site.rp_id,
            expected_origin=site.origin, require_user_verification=True,
        )
    except Exception as problem:
        raise PasskeyRefused("credential", f"a passkey made at {site.origin} by its holder") from problem
    now_ms = clock.now_ms()
    id_ = importlib.import_module("webauthn.helpers").bytes_to_base64url(made.credential_id)
    passkey = Passkey(
        id=id_, team_id=who.team_id, member_id=who.member.id, rp_id=site.rp_id, name=name, made_at_ms=now_ms,
        public_key=made.credential_public_key, n_signed=made.sign_count, used_at_ms=now_ms,
    )
    with repository.transaction():
        repository.hold(who.team_id)
        _use(repository, given, end)
        known = repository.passkeys_of(who.team_id, who.member.id)
        if known:
            must_be_fresh(who)
        if repository.passkey(id_) is not None or len(known) >= MOST_PASSKEYS:
            raise PasskeyRefused("credential", f"a new one, and at most {MOST_PASSKEYS} a person")
        repository.put_passkey(passkey)
        repository.verify_device(who.team_id, who.device.id, now_ms)
    return passkey


def options(repository: Repository, site: Site, who: SignedIn | None) -> str:
    """Ask for a signature: of this person's passkeys, or, from nobody yet, of any the device holds for this host."""
    library, structs = _library(), importlib.import_module("webauthn.helpers.structs")
    helpers = importlib.import_module("webauthn.helpers")
    known = [] if who is None else repository.passkeys_of(who.team_id, who.member.id)
    asked = library.generate_authentication_options(
        rp_id=site.rp_id, user_verification=structs.UserVerificationRequirement.REQUIRED,
        challenge=challenge(site, *(("sign_in", NOBODY) if who is None else ("verify", who.device.id))),
        allow_credentials=[
            structs.PublicKeyCredentialDescriptor(id=helpers.base64url_to_bytes(one.id)) for one in known
        ],
    )
    return str(library.options_to_json(asked))


def _signed(repository: Repository, site: Site, act: Act, device_id: str, credential: bytes) -> Passkey:
    """Check a signature and note it: challenge, origin, host, holder and counter must all be right."""
    given, end = _answered(site, act, device_id, credential)
    told = msgspec.json.decode(credential)
    passkey = repository.passkey(str(told.get("id", "")))
    if passkey is None or passkey.rp_id != site.rp_id:
        raise PasskeyRefused("credential", "a passkey this server knows")
    with repository.transaction():
        repository.hold(passkey.team_id)
        passkey = repository.passkey(passkey.id) or passkey
        try:
            done = _library().verify_authentication_response(
                credential=credential.decode(), expected_challenge=given, expected_rp_id=passkey.rp_id,
                expected_origin=site.origin, credential_public_key=passkey.public_key,
                credential_current_sign_count=passkey.n_signed, require_user_verification=True,
            )
        except Exception as problem:
            limit = f"signed at {site.origin} by its holder, newer than the last"
            raise PasskeyRefused("credential", limit) from problem
        _use(repository, given, end)
        used = msgspec.structs.replace(passkey, n_signed=done.new_sign_count, used_at_ms=clock.now_ms())
        repository.put_passkey(used)
    return used


def verify(repository: Repository, site: Site, who: SignedIn, credential: bytes) -> None:
    """Take a signature as showing that the person himself holds the device."""
    passkey = _signed(repository, site, "verify", who.device.id, credential)
    if (passkey.team_id, passkey.member_id) != (who.team_id, who.member.id):
        raise PasskeyRefused("credential", "a passkey of the person who is signed in")
    repository.verify_device(who.team_id, who.device.id, clock.now_ms())


def sign_in(repository: Repository, site: Site, credential: bytes, device_name: str) -> SignedIn:
    """Sign a person in on a new device."""
    passkey = _signed(repository, site, "sign_in", NOBODY, credential)
    try:
        member: Member = repository.member(passkey.team_id, passkey.member_id)
    except NotFound as problem:
        raise PasskeyRefused("credential", "a passkey of a person of the team") from problem
    token, now_ms = clock.secret(), clock.now_ms()
    made = new_device(passkey.team_id, member, token=token, name=device_name, now_ms=now_ms)
    device = msgspec.structs.replace(made, verified_at_ms=now_ms)
    repository.put_device(device)
    return SignedIn(token=token, device=device, member=member)


def is_fresh(who: SignedIn) -> bool:
    """Tell whether the person showed who he is within ``VERIFIED_MINUTES``."""
    at_ms = who.device.verified_at_ms
    return at_ms is not None and 0 <= clock.now_ms() - at_ms < VERIFIED_MINUTES * MINUTE_MS


def must_be_fresh(who: SignedIn) -> None:
    """Let pass who showed who he is of late."""
    if not is_fresh(who):
        raise VerifyAgain


def is_asked(repository: Repository, who: SignedIn) -> bool:
    """Tell whether others' bodies wait, as the team wants it, until he showed who he is or made his first passkey."""
    if who.member.role not in BODY_READERS or is_fresh(who):
        return False
    return repository.team(who.team_id).is_step_up_asked


def holds_back(repository: Repository, who: SignedIn, seen: Iterable[tuple[str, str]]) -> bool:
    """Tell whether records of these persons wait; one's own never do."""
    return any(not is_own_record(who, about) for about, _ in seen) and is_asked(repository, who)


def must_show(repository: Repository, who: SignedIn) -> None:
    """Let pass only where others' bodies may go out to the person right now."""
    if is_asked(repository, who):
        raise VerifyAgain
