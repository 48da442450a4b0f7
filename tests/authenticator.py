"""An authenticator in software, as Web Authentication Level 3 (W3C) describes one: a P-256 key for each
passkey, attestation "none". What it says can be made wrong in every place.
"""

from __future__ import annotations

import base64
import json
import secrets
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

import cbor2
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec

UP, UV, BE, BS, AT = 0x01, 0x04, 0x08, 0x10, 0x40
"""The flags of authenticator data (section 6.1)."""


def b64(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def unb64(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


@dataclass
class Authenticator:
    """One that holds one passkey, and the browser before it."""

    origin: str
    key: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))
    credential: bytes = field(default_factory=lambda: secrets.token_bytes(32))
    handle: str = ""
    count: int = 0
    counts: bool = True
    flags: int = UP | UV
    client: dict[str, Any] = field(default_factory=dict)
    """What its browser says beside, or otherwise."""

    def make(self, options: dict[str, Any]) -> str:
        """The answer to `navigator.credentials.create`."""
        assert options["pubKeyCredParams"]
        assert options["authenticatorSelection"]["userVerification"] == "required"
        assert options["authenticatorSelection"]["residentKey"] == "required"
        self.handle = options["user"]["id"]
        numbers = self.key.public_key().public_numbers()
        public = {1: 2, 3: -7, -1: 1, -2: numbers.x.to_bytes(32, "big"), -3: numbers.y.to_bytes(32, "big")}
        held = bytes(16) + len(self.credential).to_bytes(2, "big") + self.credential + cbor2.dumps(public)
        data = self._data(options["rp"]["id"], AT) + held
        whole = cbor2.dumps({"fmt": "none", "attStmt": {}, "authData": data})
        client = self._client("webauthn.create", options["challenge"])
        return self._told({"clientDataJSON": b64(client), "attestationObject": b64(whole)})

    def sign(self, options: dict[str, Any]) -> str:
        """The answer to `navigator.credentials.get`."""
        assert options["userVerification"] == "required"
        assert not options.get("allowCredentials")
        self.count += self.counts
        data = self._data(options["rpId"])
        client = self._client("webauthn.get", options["challenge"])
        signature = self.key.sign(data + sha256(client).digest(), ec.ECDSA(hashes.SHA256()))
        return self._told(
            {
                "clientDataJSON": b64(client),
                "authenticatorData": b64(data),
                "signature": b64(signature),
                "userHandle": self.handle,
            }
        )

    def _data(self, rp_id: str, more: int = 0) -> bytes:
        flags = (self.flags | more).to_bytes(1, "big")
        return sha256(rp_id.encode()).digest() + flags + self.count.to_bytes(4, "big")

    def _client(self, kind: str, challenge: str) -> bytes:
        told = {"type": kind, "challenge": challenge, "origin": self.origin, "crossOrigin": False}
        return json.dumps({**told, **self.client}).encode()

    def _told(self, response: dict[str, str]) -> str:
        number = b64(self.credential)
        return json.dumps({"id": number, "rawId": number, "type": "public-key", "response": response})
