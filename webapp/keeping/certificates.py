"""A certificate of the shop's own, so that tablets on its network can use the microphone (browsers ask for https).

The shop becomes a small authority: its own certificate is installed on each tablet once; the server's, signed by it,
may then be made again whenever names or years change. Profile: RFC 5280; at most 398 days for the server's, as browsers
ask.
"""

import ipaddress
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

FOLDER = "tls"
AUTHORITY_DAYS = 3650
SERVER_DAYS = 397
RENEW_BEFORE = timedelta(days=30)
# For TLS 1.2; 1.3 has no weaker ones. Keys that are new for each connection, and encryption that is authenticated
# (RFC 9325, 4.2).
CIPHERS = "ECDHE+AESGCM:ECDHE+CHACHA20"


@dataclass(frozen=True, slots=True)
class Files:
    """Where the certificates and keys lie."""

    authority: Path
    authority_key: Path
    certificate: Path
    key: Path

    @classmethod
    def of(cls, data: Path) -> "Files":
        folder = data / FOLDER
        return cls(folder / "authority.crt", folder / "authority.key", folder / "server.crt", folder / "server.key")


def make(data: Path, names: Sequence[str], shop_name: str = "Flutebench") -> Files:
    """Make the server's certificate for these names and IP addresses, and the authority first where there is none.

    Raises ValueError for a name that can't be certified.
    """
    alternatives = [_general(name) for name in names]
    files = Files.of(data)
    files.authority.parent.mkdir(parents=True, exist_ok=True)
    if not (files.authority.exists() and files.authority_key.exists()):
        _make_authority(files, shop_name)
    authority = x509.load_pem_x509_certificate(files.authority.read_bytes())
    signing = serialization.load_pem_private_key(files.authority_key.read_bytes(), None)
    assert isinstance(signing, ec.EllipticCurvePrivateKey)
    key = ec.generate_private_key(ec.SECP256R1())
    moment = datetime.now(UTC)
    ends = min(moment + timedelta(days=SERVER_DAYS), authority.not_valid_after_utc)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(_name(names[0]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(moment - timedelta(hours=1))
        .not_valid_after(ends)
        .add_extension(x509.SubjectAlternativeName(alternatives), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signing.public_key()), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(signing, hashes.SHA256())
    )
    _write(files.key, _pem(key), 0o600)
    _write(files.certificate, certificate.public_bytes(serialization.Encoding.PEM), 0o644)
    return files


def days_left(data: Path) -> int | None:
    """For how many days the server's certificate is still good; None where there is none."""
    path = Files.of(data).certificate
    if not path.exists():
        return None
    return (x509.load_pem_x509_certificate(path.read_bytes()).not_valid_after_utc - datetime.now(UTC)).days


def names_of(data: Path) -> list[str]:
    """The names and addresses that the server's certificate is good for."""
    certificate = x509.load_pem_x509_certificate(Files.of(data).certificate.read_bytes())
    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return [str(name.value) for name in names]


def fingerprint(data: Path) -> str:
    """SHA-256 of the authority's certificate, in pairs, to compare by eye with what a tablet shows."""
    certificate = x509.load_pem_x509_certificate(Files.of(data).authority.read_bytes())
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def _make_authority(files: Files, shop_name: str) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    moment = datetime.now(UTC)
    name = _name(f"{shop_name[:40]}, own network")
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(moment - timedelta(hours=1))
        .not_valid_after(moment + timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(files.authority_key, _pem(key), 0o600)
    _write(files.authority, certificate.public_bytes(serialization.Encoding.PEM), 0o644)


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        if not name or not name.isascii() or any(c.isspace() for c in name):
            raise ValueError(f"{name!r} is neither a host name nor an IP address") from None
        return x509.DNSName(name)


def _name(text: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text[:64])])


def _usage(signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs,
        crl_sign=signs,
        encipher_only=False,
        decipher_only=False,
    )


def _pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write(path: Path, content: bytes, mode: int) -> None:
    beside = path.with_name(path.name + ".new")
    beside.unlink(missing_ok=True)
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
        file.write(content)
    beside.replace(path)
