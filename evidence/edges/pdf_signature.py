"""Checking the signature inside a PDF (PAdES) that somebody else made. The file is hostile until shown otherwise."""

from __future__ import annotations

import hashlib
import logging
from typing import IO

from evidence.review.verdict import PdfFound


def check_pdf(file: IO[bytes]) -> PdfFound:
    """What its signature shows. Whose certificate it is must be compared with something from elsewhere.

    Without the extra ``seal`` nothing is said (``checked`` is False).
    """
    if file.read(5) != b"%PDF-":
        return PdfFound(checked=True, problem="it is no PDF that can be looked into")
    try:
        from asn1crypto.x509 import Certificate
        from pyhanko.pdf_utils.misc import PdfError
        from pyhanko.pdf_utils.reader import PdfFileReader
        from pyhanko.sign.general import SigningError
        from pyhanko.sign.validation import validate_pdf_signature
        from pyhanko_certvalidator import ValidationContext
        from pyhanko_certvalidator.errors import PathError
    except ImportError:
        return PdfFound(checked=False, problem="looking into it needs the extra 'seal'")
    for name in ("pyhanko", "pyhanko_certvalidator"):  # what they have to say is said in our words
        if not logging.getLogger(name).handlers:
            logging.getLogger(name).addHandler(logging.NullHandler())
    hostile = (ValueError, TypeError, LookupError, AttributeError, AssertionError, ArithmeticError, RuntimeError)
    try:
        found = PdfFileReader(file).embedded_signatures
        if not found:
            return PdfFound(checked=True)
        if len(found) > 1:
            return PdfFound(checked=True, signed=True, problem=f"it bears {len(found)} signatures, one is made")
        own: Certificate = found[0].signer_cert
        context = ValidationContext(trust_roots=[own], allow_fetching=False)
        status = validate_pdf_signature(found[0], context)
        whole = str(status.coverage) == "SignatureCoverageLevel.ENTIRE_FILE"
        right = bool(status.intact and status.valid and whole)
    except (*hostile, PdfError, SigningError, PathError, OSError) as err:
        return PdfFound(checked=True, signed=True, problem=f"its signature cannot be read ({type(err).__name__})")
    problem = (
        ""
        if right
        else "something was added after it was signed"
        if status.intact and not whole
        else "its signature is wrong"
    )
    return PdfFound(
        checked=True, signed=True, right=right, problem=problem, fingerprint=hashlib.sha256(own.dump()).hexdigest()
    )
