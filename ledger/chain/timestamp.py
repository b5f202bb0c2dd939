"""Timestamps: an authority's word that a checkpoint existed before some moment.

The token stands for the text of the checkpoint, without its signatures. It says nothing
about who made the checkpoint, or whether what it covers is true.

Source:
    RFC 3161 (the protocol), RFC 5816 (the signer's certificate), by rfc3161-client.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from hashlib import sha256, sha384, sha512
from typing import TYPE_CHECKING, Final

from ledger.errors import InputError, SealError

if TYPE_CHECKING:
    from hashlib import _Hash

    from cryptography.x509 import Certificate
    from rfc3161_client import TimeStampResponse

MAX_TOKEN: Final = 64 * 1024
"""No token is larger, in bytes."""

_DIGESTS: Final[Mapping[str, Callable[[bytes], "_Hash"]]] = {
    "2.16.840.1.101.3.4.2.1": sha256,
    "2.16.840.1.101.3.4.2.2": sha384,
    "2.16.840.1.101.3.4.2.3": sha512,
}


def timestamp_request(text: str) -> bytes:
    """Return what an authority is asked: a TimeStampReq over the text of a checkpoint.

    Source:
        RFC 3161, section 2.4.1. It asks for the certificate and carries no nonce: the
        text is never the same twice.
    """
    from rfc3161_client import TimestampRequestBuilder  # noqa: PLC0415 - loads slowly
    from rfc3161_client.base import HashAlgorithm  # noqa: PLC0415

    asked = (
        TimestampRequestBuilder()
        .data(text.encode())
        .hash_algorithm(HashAlgorithm.SHA256)
        .nonce(nonce=False)
        .cert_request(cert_request=True)
        .build()
    )
    return asked.as_bytes()


def stated_moment(token: bytes, text: str) -> datetime:
    """Return the moment that a token states; its signature is not checked.

    Args:
        token: The authority's answer, a TimeStampResp.
        text: The text of the checkpoint.

    Raises:
        InputError: It is no answer of an authority.
        SealError: It was refused, or is for another text.
    """
    response = _parse(token)
    imprint = response.tst_info.message_imprint
    digest = _DIGESTS.get(imprint.hash_algorithm.dotted_string)
    if digest is None or digest(text.encode()).digest() != imprint.message:
        raise SealError(
            "the timestamp is for something else than this checkpoint; ask the authority "
            "for one over the checkpoint's text"
        )
    return response.tst_info.gen_time


def parse_authorities(pem: bytes) -> tuple["Certificate", ...]:
    """Return the certificates of authorities that a reader trusts.

    Raises:
        InputError: There is none, or none that is signed by itself to start from.
    """
    from cryptography.x509 import load_pem_x509_certificates  # noqa: PLC0415

    try:
        found = tuple(load_pem_x509_certificates(pem))
    except ValueError as error:
        raise InputError(f"the certificates cannot be read as PEM ({error})") from error
    if not any(_is_root(certificate) for certificate in found):
        raise InputError(
            "none of the certificates is a root, which is signed by itself; add the root "
            "certificate of the authority, as the authority publishes it"
        )
    return found


def check_timestamp(
    token: bytes, text: str, authorities: Sequence["Certificate"]
) -> datetime:
    """Return the moment before which a checkpoint existed, on an authority's word.

    Args:
        token: The authority's answer, a TimeStampResp.
        text: The text of the checkpoint.
        authorities: Certificates that the reader trusts: roots, and those between them
            and the signer, the signer's own included where the token has none.

    Raises:
        InputError: It is no answer of an authority.
        SealError: It is for another text, or none of the authorities signed it.

    Source:
        RFC 3161, section 2.4.2 and section 2.3 (the signer's extended key usage).
    """
    from rfc3161_client import VerificationError, VerifierBuilder  # noqa: PLC0415

    moment = stated_moment(token, text)
    response = _parse(token)
    own = not response.signed_data.certificates
    try:
        verifier = VerifierBuilder(
            roots=[one for one in authorities if _is_root(one)],
            intermediates=[one for one in authorities if not _is_root(one)],
            tsa_certificate=next(filter(_is_signer, authorities), None)
            if own
            else None,
        ).build()
        verifier.verify_message(response, text.encode())
    except (VerificationError, ValueError) as error:
        raise SealError(
            f"the timestamp of {moment:%Y-%m-%d %H:%M} is not signed by an authority that "
            f"you trust ({error}); add its certificates, or do not rely on it"
        ) from error
    return moment


def _parse(token: bytes) -> "TimeStampResponse":
    from rfc3161_client import decode_timestamp_response  # noqa: PLC0415

    if len(token) > MAX_TOKEN:
        raise InputError(f"the timestamp is larger than {MAX_TOKEN} bytes")
    try:
        response = decode_timestamp_response(token)
        if response.status:
            raise SealError(
                "the authority did not grant the timestamp (status "
                f"{response.status}); ask again"
            )
        # A malformed one shows only when its parts are asked for.
        _ = response.tst_info.gen_time, response.signed_data.certificates
    except ValueError as error:
        raise InputError(
            f"the bytes are not a timestamp as RFC 3161 has it ({error}); give the "
            "authority's answer as it came"
        ) from error
    return response


def _is_root(certificate: "Certificate") -> bool:
    return certificate.issuer == certificate.subject


def _is_signer(certificate: "Certificate") -> bool:
    from cryptography.x509 import ExtendedKeyUsage, ExtensionNotFound  # noqa: PLC0415
    from cryptography.x509.oid import ExtendedKeyUsageOID  # noqa: PLC0415

    try:
        usage = certificate.extensions.get_extension_for_class(ExtendedKeyUsage)
    except ExtensionNotFound:
        return False
    return ExtendedKeyUsageOID.TIME_STAMPING in usage.value
