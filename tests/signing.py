"""Judging and signing PDFs in the process of the test: the program's own takes half a second to start for every report.

``unit/report/test_sealing.py``, ``test_archive.py`` and whatever starts commands use the program's own.
"""

from __future__ import annotations

from pathlib import Path
from typing import Self

from evidence.report import sealing


class JudgeHere:
    """As :class:`evidence.report.sealing.Judge`, here."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_exc: object) -> None:
        """Nothing is held."""

    def require_archive(self, path: Path) -> None:
        from pikepdf import pdfa

        found = pdfa.validate_written(str(path), "3b")
        assert found.verdict == "pass", found.findings

    seal = staticmethod(sealing.seal)
