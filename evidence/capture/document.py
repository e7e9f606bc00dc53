"""Pages and text of a PDF, read by the limited child process. Scripts, forms and attachments are never acted on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from evidence.capture.limited import run_limited
from evidence.capture.wording import searchable


def read_document(path: Path) -> dict[str, Any]:
    """Fields of ``FileFacts`` of a PDF."""
    answer = run_limited("pdf_facts", path)
    if answer.problem:
        return {"notes": [f"document not read: {answer.problem}"]}
    fields: dict[str, Any] = {
        "reader": str(answer.facts["reader"]),
        "pages": int(answer.facts["pages"]),
        "notes": [str(n) for n in answer.facts["notes"]],
    }
    if text := searchable(str(answer.facts["text"])):
        fields["text"] = text
    elif fields["pages"]:
        fields["notes"].append("no text in it that can be searched (a scan?)")
    return fields
