"""An authenticator in software, after WebAuthn (W3C, level 2: 6.1 authenticator data, 6.5 attestation "none")."""

import hashlib
import json
import os
from base64 import urlsafe_b64decode, urlsafe_b64encode
from dataclasses import dataclass, field

import cbor2
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec

PRESENT, VERIFIED, ATTESTED = 0x01, 0x04, 0x40


def b64(raw: bytes) -> str:
    """Encode as the standard does: URL-safe, without padding."""
    return urlsafe_b64encode(raw).rstrip(b"=").decode()


@dataclass
class Authenticator:
    """One ES256 key with a counter, and whoever holds it at an origin."""

    origin: str
    rp_id: str
    n_signed: int = 0
    flags: int = PRESENT | VERIFIED
    id: bytes = field(default_factory=lambda: os.urandom(16))
    key: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))

    def _client(self, kind: str, options: dict) -> bytes:
        told = {"type": kind, "challenge": options["challenge"], "origin": self.origin, "crossOrigin": False}
        return json.dumps(told).encode()

    def _data(self, flags: int) -> bytes:
        return hashlib.sha256(self.rp_id.encode()).digest() + bytes([flags]) + self.n_signed.to_bytes(4, "big")

    def make(self, options: dict) -> dict:
        """Answer a request for a new passkey."""
        numbers = self.key.public_key().public_numbers()
        cose = {1: 2, 3: -7, -1: 1, -2: numbers.x.to_bytes(32, "big"), -3: numbers.y.to_bytes(32, "big")}
        attested = bytes(16) + len(self.id).to_bytes(2, "big") + self.id + cbor2.dumps(cose)
        data = self._data(self.flags | ATTESTED) + attested
        return self._credential({
            "clientDataJSON": b64(self._client("webauthn.create", options)),
            "attestationObject": b64(cbor2.dumps({"fmt": "none", "attStmt": {}, "authData": data})),
        })

    def sign(self, options: dict) -> dict:
        """Answer a request to sign."""
        self.n_signed += 1
        client, data = self._client("webauthn.get", options), self._data(self.flags)
        signature = self.key.sign(data + hashlib.sha256(client).digest(), ec.ECDSA(hashes.SHA256()))
        return self._credential({
            "clientDataJSON": b64(client), "authenticatorData": b64(data), "signature": b64(signature),
        })

    def _credential(self, response: dict) -> dict:
        id_ = b64(self.id)
        return {
            "id": id_, "rawId": id_, "type": "public-key", "response": response, "clientExtensionResults": {},
            "authenticatorAttachment": "platform",
        }


def challenge_of(options: dict) -> bytes:
    """Read the bytes of a challenge."""
    text = options["challenge"]
    return urlsafe_b64decode(text + "=" * (-len(text) % 4))
