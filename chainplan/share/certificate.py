"""A certificate made here, for a workshop's own network: to be trusted once on each tablet."""

from __future__ import annotations

import datetime
import ipaddress
import os
from typing import TYPE_CHECKING

from chainplan.share.serving import Certified

if TYPE_CHECKING:
    from pathlib import Path

    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.hazmat.primitives.hashes import SHA256

ROOT_DAYS = 825
"""Days that tablets trust the root for: as long as browsers took certificates at most (825 days,
CA/Browser Forum Baseline Requirements, ballot 193)."""
LEAF_DAYS = 60
"""Tablets refuse certificates of servers that are good for much longer than a year; this one is
made anew at every start."""
NETWORKS = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "127.0.0.0/8", "169.254.0.0/16")
"""The root is good for addresses of private networks alone, so that whoever got hold of its key
could pose as no site of the world outside."""


def certify(folder: Path, addresses: list[str]) -> Certified:
    """Make a certificate for some addresses, signed by the workshop's own root.

    The root is made once and kept in a folder that only this user can read.
    """
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    root, root_key = _root(folder)
    key = ec.generate_private_key(ec.SECP256R1())
    leaf = _leaf(root, root_key, key, addresses)
    chain = folder / "server.pem"
    chain.write_bytes(
        b"".join(item.public_bytes(serialization.Encoding.PEM) for item in (leaf, root))
    )
    _keep_key(folder / "server.key", key)
    return Certified(chain, folder / "server.key", root.public_bytes(serialization.Encoding.DER))


def _keep_key(path: Path, key: EllipticCurvePrivateKey) -> None:
    from cryptography.hazmat.primitives import serialization

    pem = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(number, "wb") as file:
        file.write(pem)


def _root(folder: Path) -> tuple[x509.Certificate, EllipticCurvePrivateKey]:
    """Take the root that is there, or make one."""
    from cryptography import x509
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    place, place_key = folder / "root.pem", folder / "root.key"
    now = datetime.datetime.now(datetime.UTC)
    try:
        root = x509.load_pem_x509_certificate(place.read_bytes())
        key = serialization.load_pem_private_key(place_key.read_bytes(), None)
        later = now + datetime.timedelta(days=LEAF_DAYS)
        if isinstance(key, ec.EllipticCurvePrivateKey) and root.not_valid_after_utc > later:
            return root, key
    except (OSError, ValueError):
        pass  # none yet, or damaged: tablets will have to trust a new one
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "chainplan, this workshop")])
    networks = [x509.IPAddress(ipaddress.ip_network(text)) for text in NETWORKS]
    root = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=ROOT_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(
            x509.NameConstraints([*networks, x509.DNSName("localhost")], None), critical=True
        )
        .add_extension(_usage(sign=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, _sha256())
    )
    place.write_bytes(root.public_bytes(serialization.Encoding.PEM))
    _keep_key(place_key, key)
    return root, key


def _leaf(
    root: x509.Certificate,
    root_key: EllipticCurvePrivateKey,
    key: EllipticCurvePrivateKey,
    addresses: list[str],
) -> x509.Certificate:
    from cryptography import x509
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    now = datetime.datetime.now(datetime.UTC)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "chainplan share")])
    names: list[x509.GeneralName] = [
        *(x509.IPAddress(ipaddress.ip_address(text)) for text in addresses),
        x509.DNSName("localhost"),
    ]
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(root.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=LEAF_DAYS))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(sign=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(root_key.public_key()),
            critical=False,
        )
        .sign(root_key, _sha256())
    )


def _sha256() -> SHA256:
    from cryptography.hazmat.primitives.hashes import SHA256

    return SHA256()


def _usage(*, sign: bool) -> x509.KeyUsage:
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=not sign, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, key_cert_sign=sign, crl_sign=sign,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip
