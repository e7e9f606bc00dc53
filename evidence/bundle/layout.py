"""Names in a disclosure bundle, format 1: a BagIt 1.0 bag (RFC 8493) in a zip or a folder.

::

    disclosure/
      bagit.txt  bag-info.txt
      manifest-sha256.txt  manifest-sha512.txt
      tagmanifest-sha256.txt  tagmanifest-sha512.txt
      disclosure.note  disclosure.txt  disclosure.sig  disclosure-key.pem    outside the tag manifests
      data/README.txt  verify.py  report.pdf  findings.json  programs.json
      data/record/headers.jsonl  contents.jsonl  withheld.json
      data/heads/<size>/...  data/originals/...  data/rules/...
"""

from __future__ import annotations

FORMAT = 1
BASE = "disclosure"
ALGORITHMS = ("sha256", "sha512")

BAGIT = "bagit.txt"
BAG_INFO = "bag-info.txt"
NOTE, NOTE_TEXT, NOTE_SIGNATURE, NOTE_KEY = "disclosure.note", "disclosure.txt", "disclosure.sig", "disclosure-key.pem"
README, VERIFIER, REPORT, FINDINGS, PROGRAMS = (
    f"data/{name}" for name in ("README.txt", "verify.py", "report.pdf", "findings.json", "programs.json")
)
HEADERS, CONTENTS, WITHHELD = (f"data/record/{name}" for name in ("headers.jsonl", "contents.jsonl", "withheld.json"))
RULES = "data/rules"

BAGIT_TEXT = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"

# By the type read from the content, never from the name as given.
_ENDINGS = {
    "image/jpeg": "jpg", "image/png": "png", "image/heic": "heic", "image/tiff": "tif", "image/webp": "webp",
    "video/mp4": "mp4", "video/quicktime": "mov", "application/pdf": "pdf", "text/csv": "csv", "text/plain": "txt",
}  # fmt: skip


def original_name(number: int, type_: str, version: int = 1) -> str:
    """Where the file of exhibit ``number`` lies: a generated name that is safe on every system.

    ``version`` counts the files that the exhibit has had, for one that an amendment replaced.
    """
    later = f"-{version}" if version > 1 else ""
    return f"data/originals/exhibit-{number:04}{later}.{_ENDINGS.get(type_, 'bin')}"


def head_folder(size: int) -> str:
    """Where the files of a head lie."""
    return f"data/heads/{size:010}"


def manifest(algorithm: str, *, tags: bool = False) -> str:
    """The name of a manifest."""
    return f"{'tag' if tags else ''}manifest-{algorithm}.txt"


def disclosed_text(ledger: str, size: int, root_base64: str, tag_manifest: str) -> str:
    """What the disclosure note signs: the head, and the SHA-256 (hexadecimal) of the tag manifest."""
    return f"evidence-disclosure/{ledger}\n{size}\n{root_base64}\nsha256 {tag_manifest}\n"
