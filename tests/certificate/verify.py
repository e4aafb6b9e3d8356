"""Checks a signed file against an issuer's document, by the standards and without the program that made it.

    python3 verify.py ISSUER_DOCUMENT SIGNED_FILE [STATUS_LIST ...]

Prints "verified", the certificate's name, and each status that is set, one a line; or says what is wrong and ends with 1. Needs
only `cryptography` for Ed25519. Never asks a network: whoever saved the issuer's document beside the file needs none.

Source: W3C Data Integrity EdDSA Cryptosuites 1.0, section 3.3.2 (eddsa-jcs-2022); RFC 8785 (canonical JSON); W3C Bitstring Status
List 1.0, section 3.2; draft-msporny-base58 (Base58); multicodec table (0xed01).
"""

import base64
import gzip
import hashlib
import json
import sys

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

BASE58 = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"


class Wrong(Exception):
    """What is wrong with a file."""


def need(right, what):
    if not right:
        raise Wrong(what)


def unbase58(text):
    need(text[:1] == "z", "not base58-btc: " + text[:12])
    number = 0
    for letter in text[1:]:
        need(letter in BASE58, "not base58: " + letter)
        number = number * 58 + BASE58.index(letter)
    body = number.to_bytes((number.bit_length() + 7) // 8, "big")
    zeros = len(text[1:]) - len(text[1:].lstrip("1"))
    return b"\0" * zeros + body


def canonical(value):
    """RFC 8785 for everything but numbers with fractions, which a certificate has none of."""
    if isinstance(value, dict):
        names = sorted(value, key=lambda name: name.encode("utf-16-be"))
        return "{" + ",".join(canonical(name) + ":" + canonical(value[name]) for name in names) + "}"
    if isinstance(value, list):
        return "[" + ",".join(canonical(each) for each in value) + "]"
    need(not isinstance(value, float), "a number with a fraction")
    return json.dumps(value, ensure_ascii=False)


def sha256(value):
    return hashlib.sha256(canonical(value).encode("utf-8")).digest()


def verify(document, issuer):
    """The proof of a document, with a key that the issuer's own document lets it sign with."""
    name = document["issuer"] if isinstance(document["issuer"], str) else document["issuer"]["id"]
    need(name == issuer["id"], "another issuer: " + name)
    unsigned = {key: value for key, value in document.items() if key != "proof"}
    proof = dict(document["proof"])
    signature = unbase58(proof.pop("proofValue"))
    need(proof["type"] == "DataIntegrityProof", "another kind of proof")
    need(proof["cryptosuite"] == "eddsa-jcs-2022", "another cryptosuite")
    need(proof["proofPurpose"] == "assertionMethod", "another purpose")
    need(proof.get("@context", unsigned["@context"]) == unsigned["@context"], "another context")
    need(proof["verificationMethod"] in issuer["assertionMethod"], "the issuer does not sign with this key")
    keys = {method["id"]: method for method in issuer["verificationMethod"]}
    method = keys[proof["verificationMethod"]]
    need(method["controller"] == issuer["id"] and method["type"] == "Multikey", "not the issuer's key")
    key = unbase58(method["publicKeyMultibase"])
    need(key[:2] == b"\xed\x01" and len(key) == 34, "not an Ed25519 key")
    try:
        Ed25519PublicKey.from_public_bytes(key[2:]).verify(signature, sha256(proof) + sha256(unsigned))
    except InvalidSignature:
        raise Wrong("the signature does not fit") from None


def statuses(credential, lists, issuer):
    """Each status that is set, by its entry in the credential and the list that it names."""
    entry = credential["credentialStatus"]
    for each in lists:
        need(each["id"] == entry["statusListCredential"], "a list that the certificate does not name")
        verify(each, issuer)
        subject = each["credentialSubject"]
        need(subject["type"] == "BitstringStatusList", "not a status list")
        need(subject["statusPurpose"] == entry["statusPurpose"], "a list for another purpose")
        encoded = subject["encodedList"]
        need(encoded[:1] == "u", "not base64url")
        bits = gzip.decompress(base64.urlsafe_b64decode(encoded[1:] + "=" * (-len(encoded[1:]) % 4)))
        need(len(bits) >= 16384, "a list that is too short")
        place = int(entry["statusListIndex"])
        if bits[place // 8] >> (7 - place % 8) & 1:
            yield entry["statusPurpose"]


def main(paths):
    issuer, credential, *lists = [json.load(open(path, encoding="utf-8")) for path in paths]
    need("OpenBadgeCredential" in credential["type"], "not an Open Badge")
    verify(credential, issuer)
    print("verified")
    print(credential["name"])
    for status in statuses(credential, lists, issuer):
        print(status)


if __name__ == "__main__":
    try:
        main(sys.argv[1:])
    except (Wrong, KeyError, IndexError, TypeError, ValueError) as wrong:
        print(f"not verified: {wrong!r}", file=sys.stderr)
        sys.exit(1)
