"""The folder ``checkpoints/``: for each head a folder ``<ledger>/<size>/`` with files that never change once kept."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from evidence.edges.durable import INCOMING, alone_in, disk_in_words, flush_folder, made_folder, put_file
from evidence.errors import StoreDamaged
from evidence.ports import FilePath
from evidence.record.checkpoint import checkpoint_text, read_checkpoint
from evidence.record.head import Head

TEXT, NOTE = "head.txt", "head.note"


class DiskHeadShelf:
    """Heads on disk. A head is there once its ``head.txt`` is; that file is written first, ``head.note`` after the rest."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, head: Head, files: Mapping[str, bytes]) -> None:
        """Make the files durable; one that is there with other bytes is refused."""
        place = self._place(head)
        files = {TEXT: checkpoint_text(head).encode(), **files}
        with disk_in_words("the signed head", place):
            made_folder(place)
            with alone_in(place):
                # A signing that was cut short before its note may be done over, by another key if need be.
                over = ("head.sig", "key.pem") if NOTE in files and not (place / NOTE).exists() else ()
                for name, data in sorted(files.items(), key=lambda item: (item[0] != TEXT, item[0].endswith(".note"))):
                    if not (place / name).exists() or name in over:
                        put_file(place / name, data)
                    elif (place / name).read_bytes() != data:
                        raise StoreDamaged(
                            "is kept already with other content; it was left as it is", item=str(place / name),
                            advice="Keep a copy of this folder as it is, and compare both with what others hold.",
                        )  # fmt: skip
                flush_folder(place)

    def kept(self, ledger: str) -> list[Head]:
        """Heads of a ledger that have files, shortest first."""
        found = []
        for place in sorted(self._folder.glob(f"{ledger}/*/{TEXT}"), key=lambda p: p.parent.name.zfill(20)):
            try:
                head = read_checkpoint(place.read_bytes().decode())
            except ValueError:
                head = None
            if head is None or (head.ledger, str(head.size)) != (ledger, place.parent.name):
                raise StoreDamaged(
                    "is not the head that was kept here", item=str(place),
                    advice="Keep a copy of this folder as it is. The heads that others hold still show what was recorded.",
                )  # fmt: skip
            found.append(head)
        return found

    def files(self, head: Head) -> dict[str, FilePath]:
        """The files of a head by name."""
        place = self._place(head)
        return {p.name: p for p in sorted(place.glob("*")) if p.is_file() and not p.name.startswith(INCOMING)}

    def read(self, head: Head, name: str) -> bytes:
        """The bytes of one file of a head."""
        return (self._place(head) / name).read_bytes()

    def _place(self, head: Head) -> Path:
        return self._folder / head.ledger / str(head.size)
