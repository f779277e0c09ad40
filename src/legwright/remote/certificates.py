"""Certificates for a robot and its people: an authority of one's own, and what it signs."""

from __future__ import annotations

import datetime as dt
import ipaddress
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from legwright.errors import LinkError

YEARS = 10
"""Validity of an authority."""
DAYS = 397
"""Validity of what it signs: what browsers accept at most (CA/Browser Forum, baseline
requirements 6.3.2, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Files of a certificate and of its key."""

    certificate: Path
    key: Path


def make_authority(folder: Path, *, name: str) -> Pair:
    """An authority that signs certificates of one robot; its key stays in the folder.

    Args:
        folder: Where `authority.pem` and `authority.key` go.
        name: Of the robot.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    who = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"{name} authority")])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(hours=1))
        .not_valid_after(now + dt.timedelta(days=365 * YEARS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return _write(folder, "authority", made, key)


def issue(folder: Path, *, name: str, hosts: tuple[str, ...] = (), days: float = DAYS) -> Pair:
    """A certificate signed by the authority in the folder.

    Args:
        folder: Where the authority is, and the files go.
        name: Common name, and name of the files.
        hosts: Host names and addresses of a robot; a client's where empty.
        days: How long it is valid; negative for one that has expired.

    Raises:
        LinkError: Word ``certificate`` where there is no authority.
    """
    try:
        signer = serialization.load_pem_private_key((folder / "authority.key").read_bytes(), None)
        above = x509.load_pem_x509_certificate((folder / "authority.pem").read_bytes())
    except (OSError, ValueError) as error:
        text = f"{folder} holds no authority ({error}). Make one: legwright key tls."
        raise LinkError("certificate", text) from None
    if not isinstance(signer, ec.EllipticCurvePrivateKey):
        raise LinkError("certificate", f"The key in {folder} is of another kind than ours.")
    key = ec.generate_private_key(ec.SECP256R1())
    now = dt.datetime.now(dt.UTC)
    use = ExtendedKeyUsageOID.SERVER_AUTH if hosts else ExtendedKeyUsageOID.CLIENT_AUTH
    begin = min(now - dt.timedelta(hours=1), now + dt.timedelta(days=days - 1))
    builder = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)]))
        .issuer_name(above.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begin)
        .not_valid_after(now + dt.timedelta(days=days))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([use]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()),
            critical=False,
        )
    )
    if hosts:
        names = [_general(host) for host in hosts]
        builder = builder.add_extension(x509.SubjectAlternativeName(names), critical=False)
    return _write(folder, name, builder.sign(signer, hashes.SHA256()), key)


def _general(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _usage(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=True, key_cert_sign=signs, crl_sign=signs, content_commitment=False,
        key_encipherment=False, data_encipherment=False, key_agreement=False,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip


def _write(
    folder: Path, name: str, certificate: x509.Certificate, key: ec.EllipticCurvePrivateKey
) -> Pair:
    folder.mkdir(parents=True, exist_ok=True)
    pair = Pair(certificate=folder / f"{name}.pem", key=folder / f"{name}.key")
    pair.certificate.write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    secret = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    pair.key.touch(mode=0o600)
    pair.key.chmod(0o600)
    pair.key.write_bytes(secret)
    return pair
