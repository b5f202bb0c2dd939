"""A timestamp authority of the tests' own: keys by `cryptography`, answers by openssl."""

import subprocess
from datetime import UTC, datetime
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

_CONFIG = """\
[ts]
serial = {folder}/serial
crypto_device = builtin
signer_cert = {folder}/signer.pem
signer_key = {folder}/signer.key
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256, sha384, sha512
accuracy = secs:1
ess_cert_id_chain = no
"""


def _named(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


class Authority:
    """Answers requests as RFC 3161 has it.

    Attributes:
        root: Its root certificate in PEM, which a reader who trusts it has.
    """

    def __init__(self, folder: Path) -> None:
        """Make its keys and certificates in a new folder."""
        folder.mkdir()
        self._folder = folder
        root_key = ec.generate_private_key(ec.SECP256R1())
        signer_key = ec.generate_private_key(ec.SECP256R1())
        root = (
            self._certificate("invented root", "invented root", root_key)
            .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
            .sign(root_key, hashes.SHA256())
        )
        purpose = ExtendedKeyUsageOID.TIME_STAMPING
        signer = (
            self._certificate("invented signer", "invented root", signer_key)
            .add_extension(x509.ExtendedKeyUsage([purpose]), critical=True)
            .sign(root_key, hashes.SHA256())
        )
        self.root = root.public_bytes(serialization.Encoding.PEM)
        (folder / "signer.pem").write_bytes(
            signer.public_bytes(serialization.Encoding.PEM)
        )
        (folder / "signer.key").write_bytes(
            signer_key.private_bytes(
                serialization.Encoding.PEM,
                serialization.PrivateFormat.PKCS8,
                serialization.NoEncryption(),
            )
        )
        (folder / "serial").write_text("01")
        (folder / "ts.cnf").write_text(_CONFIG.format(folder=folder))

    @staticmethod
    def _certificate(
        name: str, issuer: str, key: ec.EllipticCurvePrivateKey
    ) -> x509.CertificateBuilder:
        return (
            x509.CertificateBuilder()
            .subject_name(_named(name))
            .issuer_name(_named(issuer))
            .public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(datetime(2020, 1, 1, tzinfo=UTC))
            .not_valid_after(datetime(2090, 1, 1, tzinfo=UTC))
        )

    def answer(self, request: bytes) -> bytes:
        """Return the answer to a request, signed at this moment."""
        asked, answered = self._folder / "asked.tsq", self._folder / "answer.tsr"
        asked.write_bytes(request)
        subprocess.run(
            [
                *("openssl", "ts", "-reply", "-section", "ts"),
                *("-config", self._folder / "ts.cnf"),
                *("-queryfile", asked, "-out", answered),
            ],
            check=True,
            capture_output=True,
        )
        return answered.read_bytes()
