"""Receipts are signed as two published texts say: their own examples, by what signs receipts."""

import base64

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from logbook.errors import InputError
from logbook.proof.signing import Signer, opened

# RFC 8032 (January 2017), section 7.1, "Test Vectors for Ed25519": secret key, public key, message,
# signature. TEST 3 and those after it sign bytes that are no text, which no receipt holds.
RFC_8032 = (
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
        "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
)

# The Go module golang.org/x/mod, package sumdb/note, whose form C2SP's signed-note specification
# describes: the keys and the note of the package's documentation.
KEY = "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz"
PUBLIC = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
TEXT = (
    "If you think cryptography is the answer to your problem,\n"
    "then you don't know what your problem is.\n"
)
SIGNATURE = (
    "— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdng"
    "otpRZb6KE6RyyBwJnAM=\n"
)
NOTE = f"{TEXT}\n{SIGNATURE}"


@pytest.mark.parametrize(("secret", "public", "message", "signature"), RFC_8032)
def test_a_receipt_is_signed_as_the_rfc_prints_it(
    secret: str, public: str, message: str, signature: str
) -> None:
    signer = Signer(Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret)))
    signed = base64.b64decode(signer.sign(bytes.fromhex(message).decode()).split()[-1])
    assert signed[4:].hex() == signature
    assert base64.b64decode(signer.public.split("+", 2)[2])[1:].hex() == public


def test_a_note_is_the_published_one_byte_for_byte() -> None:
    raw = base64.b64decode(KEY.split("+", 4)[4])
    signer = Signer(Ed25519PrivateKey.from_private_bytes(raw[1:]), "PeterNeumann")
    assert signer.public == PUBLIC
    assert signer.sign(TEXT) == NOTE
    assert opened(NOTE, PUBLIC) == TEXT


@pytest.mark.parametrize(
    ("note", "public"),
    [
        (NOTE.replace("answer", "answers"), PUBLIC),
        (NOTE.replace("x08go", "x08gp"), PUBLIC),
        (NOTE.replace("PeterNeumann", "EnochRoot"), PUBLIC),
        (NOTE, PUBLIC.replace("c74f20a3", "c74f20a4")),
        (TEXT, PUBLIC),
        (NOTE, "PeterNeumann"),
    ],
    ids=[
        "another text",
        "another signature",
        "another name",
        "another number",
        "no line",
        "no key",
    ],
)
def test_what_was_changed_is_not_opened(note: str, public: str) -> None:
    with pytest.raises(InputError):
        opened(note, public)
