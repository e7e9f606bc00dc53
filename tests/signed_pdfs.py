"""Small PDFs with a signature of their own, made by pyHanko on the spot."""

from __future__ import annotations

import io

from cryptography.hazmat.primitives.asymmetric import ec

from authority import certificate
from foreign_files import pdf


def signed_pdfs() -> list[bytes]:
    """One PDF without a signature and one with a right one, by a certificate that nobody knows."""
    from asn1crypto import keys, x509
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import signers
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    plain = pdf("Order 12")
    key = ec.generate_private_key(ec.SECP256R1())
    signer = signers.SimpleSigner(
        signing_cert=x509.Certificate.load(certificate("Signer", key).public_bytes(Encoding.DER)),
        signing_key=keys.PrivateKeyInfo.load(key.private_bytes(Encoding.DER, PrivateFormat.PKCS8, NoEncryption())),
        cert_registry=SimpleCertificateStore(),
    )
    out = io.BytesIO()
    signers.sign_pdf(IncrementalPdfFileWriter(io.BytesIO(plain)), signers.PdfSignatureMetadata(field_name="Seal"), signer=signer, output=out)
    return [plain, out.getvalue()]
