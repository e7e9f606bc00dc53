"""The one place where adapters meet ports. Importing it configures nothing; :func:`open_desk` does."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from hashlib import sha256
from pathlib import Path

from evidence.capture.copies import CopyDrawer
from evidence.capture.likeness_index import LikenessIndex
from evidence.capture.order_table import read_mapping, read_orders
from evidence.capture.photo_marks import read_marks
from evidence.capture.place_files import place_of
from evidence.capture.preview_shelf import PreviewShelf
from evidence.capture.reading import read_file
from evidence.capture.traces.reading import read_trace
from evidence.edges.authorities import Authorities
from evidence.edges.durable import disk_in_words
from evidence.edges.head_shelf import DiskHeadShelf
from evidence.edges.key_ring import KeyRing
from evidence.edges.keys import KeyFile
from evidence.edges.settings import read_settings, write_settings
from evidence.edges.system import RandomIds, SystemClock
from evidence.errors import WorkspaceUnusable
from evidence.ports import Desk, Recorder
from evidence.publishing import KEYS
from evidence.rules.pack import Pack
from evidence.rules.vocabulary import Vocabulary
from evidence.store import database
from evidence.store.heads_file import HeadsFile
from evidence.store.ledgers import LedgerStore
from evidence.store.originals_disk import DiskOriginals, make_shelves
from evidence.store.register_book import RegisterBook

_RECORD, _HEADS, _ORIGINALS, _PREVIEWS = "record.sqlite", "heads.log", "originals", "previews"
_CHECKPOINTS, _AUTHORITIES = "checkpoints", "authorities"


def make_workspace(folder: Path, *, recorder: str, firm: str = "", zone: str = "UTC", postgresql: str = "") -> bool:
    """Make ``folder`` a workspace, or bring an existing one to this version; returns whether it is new."""
    new = not (folder / "settings.toml").exists()
    with disk_in_words("the new workspace", folder):
        try:
            if new:
                folder.mkdir(parents=True, exist_ok=True)
                write_settings(folder, recorder=recorder, firm=firm, zone=zone, database=postgresql)
            read_settings(folder)
            make_shelves(folder / _ORIGINALS)
            (folder / _PREVIEWS).mkdir(exist_ok=True)
            if new:
                heads = HeadsFile(folder / _HEADS)
                heads.ready()
                heads.close()
        except (PermissionError, FileExistsError, NotADirectoryError) as err:
            raise WorkspaceUnusable(f"a workspace cannot be made here: {err.strerror}", item=str(folder)) from err
    engine = database.open_engine(_url(folder))
    try:
        with database.in_words(str(folder)):
            older = database.migrate(engine, str(folder))
    finally:
        engine.dispose()
    if older:
        with open_desk(folder) as desk:
            desk.ledgers.rebuild()
    return new


@contextmanager
def open_desk(folder: Path) -> Iterator[Desk]:
    """Everything a use case may touch, for the workspace in ``folder``."""
    settings = read_settings(folder)
    refusal = database.refusal(folder)
    engine = database.open_engine(_url(folder), writable=refusal is None)
    ledgers = LedgerStore(engine, HeadsFile(folder / _HEADS), str(folder), refusal)
    originals = DiskOriginals(folder / _ORIGINALS)
    previews = PreviewShelf(folder / _PREVIEWS, originals)
    vocabulary = cache(lambda: _vocabulary(folder))
    try:
        database.require_version(engine, str(folder))
        yield Desk(
            ledgers=ledgers,
            originals=originals,
            read_facts=lambda path, name: read_file(Path(path), name),
            previews=previews,
            likeness=LikenessIndex(folder / _PREVIEWS, previews),
            read_marks=read_marks,
            read_trace=lambda path, waveform, engine: read_trace(Path(path), waveform, engine),
            copier=CopyDrawer(Path(__file__).resolve().parent / "report" / "fonts" / "DejaVuSans.ttf"),
            clock=SystemClock(),
            ids=RandomIds(),
            recorder=Recorder(
                full_name=settings.recorder, firm=settings.firm or "", qualification=settings.qualification or ""
            ),
            zone=settings.zone,
            vocabulary=vocabulary,
            packs=cache(lambda: _packs(folder, vocabulary())),
            signer=KeyFile(folder / KEYS),
            keys=KeyRing(folder / KEYS),
            shelf=DiskHeadShelf(folder / _CHECKPOINTS),
            authority=Authorities(folder / _AUTHORITIES, settings.authority or ""),
            book=RegisterBook(engine, str(folder), refusal),
            judged_by=cache(lambda: _judged_by(folder)),
            place=cache(lambda name: place_of(folder, name)),
            read_table=lambda raw, file, mapping, source: (
                read_orders(raw, file, read_mapping(mapping, file), source).rows
            ),
        )
    finally:
        ledgers.close()


def own_rules(folder: Path | None) -> tuple[list[Path], list[Path]]:
    """A shop's own vocabulary files and packs, in ``rules/`` of its workspace."""
    if folder is None or not (folder / "rules").is_dir():
        return [], []
    files = sorted((folder / "rules").glob("*.yaml"))
    return [f for f in files if f.name.startswith("components")], [
        f for f in files if not f.name.startswith("components")
    ]


def _vocabulary(folder: Path | None) -> Vocabulary:
    from evidence.capture.packs import load_vocabulary

    return load_vocabulary(own_rules(folder)[0])


def _packs(folder: Path | None, vocabulary: Vocabulary) -> tuple[Pack, ...]:
    from evidence.capture.packs import load_packs

    return load_packs(vocabulary, own_rules(folder)[1])


def _judged_by(folder: Path) -> str:
    """A name for the code, the rules and the firm by which the register counts what dossiers say."""
    from evidence.capture.packs import rule_files
    from evidence.edges.program import code_mark, program

    made_of = [program(), code_mark(("claim", "claim/loss", "register", "usecases")), read_settings(folder).firm or ""]
    made_of += [f"{n} {sha256(data).hexdigest()}" for n, data in sorted(rule_files(*own_rules(folder)).items())]
    return sha256("\n".join(made_of).encode()).hexdigest()[:32]


def rules_of(folder: Path | None) -> tuple[Vocabulary, tuple[Pack, ...]]:
    """Vocabulary and packs: those of the program, and the shop's own where ``folder`` is a workspace."""
    vocabulary = _vocabulary(folder)
    return vocabulary, _packs(folder, vocabulary)


def _url(folder: Path) -> str:
    return read_settings(folder).database or database.sqlite_url(folder / _RECORD)


def local_zone() -> str:
    """The machine's time zone by its IANA name, or UTC where it does not say."""
    from evidence.model.when import known_zone

    for link in (Path("/etc/localtime"),):
        parts = str(link.resolve()).split("/zoneinfo/")
        if len(parts) == 2:
            with suppress(ValueError):
                return known_zone(parts[1])
    return "UTC"


def key_ring(folder: Path) -> KeyRing:
    """The keys of the workspace in ``folder``."""
    read_settings(folder)
    return KeyRing(folder / KEYS)


def is_writable(folder: Path) -> bool:
    """Whether the workspace can be written to."""
    return database.refusal(folder) is None


def demo_dossiers() -> dict[str, Path]:
    """The demonstration dossiers by name: inside the installed package, else beside it in a checkout."""
    package = Path(__file__).resolve().parent
    places = (package / "demo_dossiers", package.parent / "demo_dossiers")
    found = next((p for p in places if p.is_dir()), None)
    return {f.parent.name: f.parent for f in sorted(found.glob("*/dossier.yaml"))} if found else {}
