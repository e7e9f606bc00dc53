"""Every parser that reads what a bundle brings, or what a shop hands to the register, and what each may raise: anything else is a crash.

Those of what is handed in with a dossier stand in :mod:`handed_parsers`.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import tempfile
from collections.abc import Callable
from functools import cache, partial
from pathlib import Path

from bag_kit import CONTENTS, HEADERS, Files, packed_members
from evidence.bundle.alone import bag, ledger, seals, signatures
from evidence.bundle.alone.opening import Fault, Place, Unusable, opened
from evidence.bundle.alone.verify import check, told
from evidence.capture import packs
from evidence.capture.order_table import read_mapping, read_orders
from evidence.capture.place_files import read_place
from evidence.edges.pdf_signature import check_pdf
from evidence.errors import BadPack, MistakesFound
from evidence.record.canonical import parse
from evidence.record.checkpoint import Note, read_checkpoint, read_public_pem
from evidence.record.entry import Header
from evidence.rules.vocabulary import Vocabulary
from handed_parsers import HANDED, sound_handed

from signed_pdfs import signed_pdfs

MEMORY = Path("/dev/shm") if Path("/dev/shm").is_dir() else None


@cache
def _folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="evidence-fuzz-", dir=MEMORY))


def _file(data: bytes, name: str = "x") -> Path:
    path = _folder() / name
    path.write_bytes(data)
    return path


def _names(data: bytes, name: str) -> dict[str, Place]:
    return {name: Place(str(_file(data)), 0, len(data))}


def zip_(data: bytes) -> None:
    with contextlib.suppress(Unusable):
        found = check(str(_file(data, "x.zip")), threads=1)
        assert found.exit_code != 0 or found.names  # reported in any case, never by a traceback
        told(found)


def names(data: bytes) -> None:
    """A zip whose one member has any name."""
    faults: list[Fault] = []
    packed = packed_members([("disclosure/" + data[:60_000].decode("utf-8", "surrogateescape"), b"x")])
    for name in opened(str(_file(packed, "n.zip")), faults):
        assert ".." not in name.split("/")
        assert not name.startswith("/")
        assert "\\" not in name


def note(data: bytes) -> None:
    for read in (Note.read, signatures.note_of):
        with contextlib.suppress(ValueError):
            read(data)
    signatures.note_signed_by(data, "evidence-ledger/x", bytes(32))
    signatures.cosigned_at(data, bytes(32))


def head(data: bytes) -> None:
    text = data.decode("utf-8", "replace")
    for read in (read_checkpoint, seals.named_head, signatures.head_of):
        with contextlib.suppress(ValueError):
            read(text)


def key(data: bytes) -> None:
    agreed = []
    for read in (read_public_pem, signatures.public_key):
        with contextlib.suppress(ValueError):
            agreed.append(read(data))
    assert len(set(agreed)) <= 1


def header(data: bytes) -> None:
    from evidence.errors import NewerFormat

    with contextlib.suppress(ValueError, NewerFormat):
        Header.read(data)
    taken = []
    for read in (parse, ledger.canonical):
        with contextlib.suppress(ValueError):
            taken.append(read(data))
    assert len(taken) in (0, 2)  # what one takes for canonical, so does the other
    assert taken[:1] == taken[1:]


def record(data: bytes) -> None:
    headers, _, contents = data.partition(b"\x00\x00")
    places = {
        "data/record/headers.jsonl": Place(str(_file(headers, "h")), 0, len(headers)),
        "data/record/contents.jsonl": Place(str(_file(contents, "c")), 0, len(contents)),
        "data/record/withheld.json": Place(str(_file(contents, "w")), 0, len(contents)),
    }
    faults: list[Fault] = []
    found = ledger.read_ledger(places, faults, [])
    if found:
        seals.check_exhibits(found, {}, places, seals.check_withheld(places, found, faults), faults)
        seals.check_seal(places, found, faults)


def manifest(data: bytes) -> None:
    faults: list[Fault] = []
    bag.check_bag(_names(data, "manifest-sha256.txt"), faults)
    assert faults


def info(data: bytes) -> None:
    bag.newer_bag(_names(data, "bag-info.txt"))


def token(data: bytes) -> None:
    assert not seals._stamped(data, b"never stamped")


def pdf(data: bytes) -> None:
    check_pdf(io.BytesIO(data if data.startswith(b"%PDF-") else b"%PDF-1.7\n" + data))


def pack(data: bytes) -> None:
    with contextlib.suppress(BadPack):
        packs.rules_of_files({packs.COMPONENTS: data})
    with contextlib.suppress(BadPack):
        packs._packs([partial(packs._marked, data, "packs/x.yaml")], _words())


@cache
def _words() -> Vocabulary:
    return packs.load_vocabulary()


MAPPING = b"""format: 1
currency: USD
distance: mi
columns: {number: Job, closed: Done, vehicle: Plate, operations: Work, odometer: Miles, comeback_of: Redoes, cost: Cost, part_origin: Part}
"""
ORDERS = b"Job,Done,Plate,Work,Miles,Redoes,Cost,Part\n1,2026-02-03,AB 1,\"gasket, top\",\"12,400\",,,used\n2,2026-02-09,AB 1,gasket,12455,1,80.50,\n"


def mapping(data: bytes) -> None:
    with contextlib.suppress(MistakesFound):
        read_mapping(data, "m.yaml")


def orders(data: bytes) -> None:
    with contextlib.suppress(MistakesFound):
        found = read_orders(data, "o.csv", read_mapping(MAPPING, "m.yaml"), "import 1")
        assert all(1 <= m.line <= data.count(b"\n") + data.count(b"\r") + 1 for m in found.mistakes)


PLACE = b"""format: 1
name: Vale
small_claims_ceiling: {amount: 3000.00 EUR, source: "Act, section 4", on: 2026-06-02}
tax: {rate: 20, source: table, on: 2024-06-02}
holidays: {country: US, subdivision: CA, days: [2026-05-04], source: library, on: 2026-06-02}
"""


def place(data: bytes) -> None:
    with contextlib.suppress(MistakesFound):
        read = read_place(_file(data, "place.yaml"))
        read.stale(dt.date(2026, 6, 20))
        read.free_days(2026, 2026)


PARSERS: dict[str, Callable[[bytes], None]] = {
    "zip": zip_, "names": names, "note": note, "head": head, "key": key, "header": header, "record": record, "manifest": manifest,
    "info": info, "token": token, "pdf": pdf, "pack": pack,
    "mapping": mapping, "orders": orders, "place": place, **HANDED,
}  # fmt: skip


def sound(files: Files, data: bytes) -> dict[str, list[bytes]]:
    """Sound input for each parser, to start from."""
    def of(ending: str) -> bytes:
        return next(d for n, d in sorted(files.items()) if n.endswith(ending))

    return {
        "zip": [data], "names": [n.encode() for n in files], "note": [of("disclosure.note"), of("head.note")], "head": [of("head.txt"), of("head.note")],
        "key": [of("key.pem")], "header": files[HEADERS].split(b"\n")[:-1], "record": [files[HEADERS] + b"\x00\x00" + files[CONTENTS]],
        "manifest": [files["manifest-sha256.txt"]], "info": [files["bag-info.txt"]], "token": [d for n, d in files.items() if n.endswith(".tsr")] or [b"0"], "pdf": signed_pdfs(),
        "pack": [_first_mechanism(files["data/rules/packs/brakes.yaml"]), files["data/rules/components.yaml"][:4000]],
        "mapping": [MAPPING], "orders": [ORDERS, ORDERS.decode().encode("utf-16")], "place": [PLACE], **sound_handed(files),
    }  # fmt: skip


def _first_mechanism(pack: bytes) -> bytes:
    head, first, _rest = pack.split(b"\n- id: ", 2)
    return head + b"\n- id: " + first + b"\n"
