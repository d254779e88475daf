"""Signing a centre's receipts, and opening them.

A receipt is a signed note (the form of C2SP's *signed-note* specification, version 1): lines of
text, an empty line, and a line with the name of the key and an Ed25519 signature (RFC 8032) over
the text. The private key lies in a file of this computer, never in the store.
"""

import base64
import binascii
import hashlib
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from logbook.errors import Act, InputError
from logbook.ledger.disk import private_folder, write_private

KEY_NAME = "gas-machine-logbook-centre"
ED25519 = b"\x01"
"""The type of the signature, by the specification's table."""


@dataclass(frozen=True, slots=True)
class Signer:
    """A private key and the name under which it signs."""

    key: Ed25519PrivateKey
    name: str = KEY_NAME

    @property
    def public(self) -> str:
        """The public key as sites keep it: name, key's number, and the key in base 64."""
        raw = self.key.public_key().public_bytes_raw()
        return f"{self.name}+{key_id(self.name, raw).hex()}+{_base64(ED25519 + raw)}"

    def sign(self, text: str) -> str:
        """The signed note of a text that ends with a line feed."""
        raw = self.key.public_key().public_bytes_raw()
        signed = _base64(key_id(self.name, raw) + self.key.sign(text.encode()))
        return f"{text}\n— {self.name} {signed}\n"


def key_id(name: str, public: bytes) -> bytes:
    """The four bytes by which a note says which key signed it."""
    return hashlib.sha256(name.encode() + b"\n" + ED25519 + public).digest()[:4]


def opened(note: str, public: str) -> str:
    """The text of a note, where the public key signed it.

    Raises:
        InputError: it is no signed note, or another key signed it, or its text was changed.
    """
    text, gap, signatures = note.rpartition("\n\n")
    text += "\n"
    name, number, raw = read_key(public)
    for line in signatures.splitlines() if gap else ():
        mark, _, rest = line.partition(" ")
        signer, _, signed = rest.partition(" ")
        if mark != "—" or signer != name:
            continue
        try:
            data = base64.b64decode(signed, validate=True)
            Ed25519PublicKey.from_public_bytes(raw).verify(data[4:], text.encode())
        except (binascii.Error, ValueError, InvalidSignature):
            continue
        if data[:4].hex() == number:
            return text
    raise InputError("the receipt is not signed by that centre", "ask the centre for it again")


def read_key(public: str) -> tuple[str, str, bytes]:
    """The name and the number of a public key as sites keep it, and its 32 bytes.

    Raises:
        InputError: it is none.
    """
    with suppress(ValueError):
        name, number, encoded = public.split("+", 2)
        raw = base64.b64decode(encoded, validate=True)
        if raw[:1] == ED25519 and key_id(name, raw[1:]).hex() == number:
            Ed25519PublicKey.from_public_bytes(raw[1:])
            return name, number, raw[1:]
    raise InputError("that is not the public key of a centre", "copy its whole line")


def signer_at(path: Path) -> Signer:
    """The key in a file; made anew, for its owner alone, where there is none.

    Raises:
        InputError: the file holds no key.
    """
    if not path.exists():
        private_folder(path.parent)
        write_private(path, Ed25519PrivateKey.generate().private_bytes_raw().hex() + "\n")
    try:
        raw = bytes.fromhex(path.read_text("ascii").strip())
        return Signer(Ed25519PrivateKey.from_private_bytes(raw))
    except ValueError:
        raise InputError(f"{path} holds no key of a centre", act=Act.NAME_KEY) from None


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode()
