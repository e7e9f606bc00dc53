"""The vocabulary and the rule packs: those of the program with what a shop adds, or exactly the files of a bundle."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache, partial
from importlib.resources import files
from pathlib import Path

from evidence.capture.marked_yaml import Marked, decoded, load_marked
from evidence.errors import BadPack, MistakesFound, SourceUnusable
from evidence.rules.pack import Pack
from evidence.rules.reading import parse_pack, refused
from evidence.rules.vocabulary import Vocabulary

COMPONENTS, OWN = "components.yaml", "own/"


def load_vocabulary(extra: Sequence[Path] = ()) -> Vocabulary:
    """The packaged vocabulary, with what the ``extra`` files add. Raises :class:`BadPack` with every fault."""
    return _vocabulary([_packaged(COMPONENTS), *(_handed_in(path) for path in extra)])


def load_packs(vocabulary: Vocabulary, extra: Sequence[Path] = ()) -> tuple[Pack, ...]:
    """The packaged packs in order of file name, then the ``extra`` files. Raises :class:`BadPack`.

    Every fault of every file is listed. A mechanism that two packs define is a fault.
    """
    packaged = [partial(_packaged, name) for name in _pack_names()]
    return _packs([*packaged, *(partial(_handed_in, path) for path in extra)], vocabulary)


def rule_files(vocabularies: Sequence[Path] = (), extra: Sequence[Path] = ()) -> dict[str, bytes]:
    """The files behind :func:`load_vocabulary` and :func:`load_packs`, as they go into a bundle: below ``own/`` a shop's."""
    packaged = {name: (files("evidence.rules") / name).read_bytes() for name in (COMPONENTS, *_pack_names())}
    return {**packaged, **{OWN + path.name: path.read_bytes() for path in (*vocabularies, *extra)}}


def rules_of_files(held: Mapping[str, bytes]) -> tuple[Vocabulary, tuple[Pack, ...]]:
    """Vocabulary and packs from the files of :func:`rule_files` alone; nothing of this program's own is used.

    Raises :class:`BadPack` with every fault.
    """
    if COMPONENTS not in held:
        raise BadPack(
            f"{COMPONENTS} is missing", advice="The words of the rules stand in it; nothing can be read without."
        )
    own = sorted(name for name in held if name.startswith(OWN))
    words = [name for name in own if name.startswith(f"{OWN}components")]
    packs = [*sorted(n for n in held if n.startswith("packs/")), *(name for name in own if name not in words)]
    vocabulary = _vocabulary([_marked(held[name], name) for name in (COMPONENTS, *words)])
    return vocabulary, _packs([partial(_marked, held[name], name) for name in packs], vocabulary)


def _vocabulary(sources: Sequence[Marked]) -> Vocabulary:
    first, *further = sources
    return Vocabulary.parse(first.data, [m.data for m in further], places=[(m.file, m.locate_key) for m in sources])


def _packs(sources: Iterable[Callable[[], Marked]], vocabulary: Vocabulary) -> tuple[Pack, ...]:
    packs: list[Pack] = []
    faults: list[str] = []
    owner: dict[str, str] = {}
    for source in sources:
        try:
            marked = source()
            pack = parse_pack(marked.data, file=marked.file, locate=marked.locate, vocabulary=vocabulary)
        except BadPack as err:
            faults.append(str(err))
            continue
        faults += [
            f"{marked.file}: {mechanism.id!r} is a mechanism of {owner[mechanism.id]} already"
            for mechanism in pack.mechanisms
            if owner.setdefault(mechanism.id, marked.file) != marked.file
        ]
        packs.append(pack)
    if faults:
        raise BadPack("\n".join(faults), advice="Mend the places named; nothing of it is used.")
    return tuple(packs)


def _pack_names() -> list[str]:
    folder = files("evidence.rules") / "packs"
    found = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".yaml"))
    return [f"packs/{name}" for name in found]


@cache
def _packaged(name: str) -> Marked:
    """A file of the program, read once: it cannot change while the program runs."""
    return _marked(files("evidence.rules").joinpath(*name.split("/")).read_bytes(), name)


def _handed_in(path: Path) -> Marked:
    try:
        return _marked(path.read_bytes(), str(path))
    except OSError as err:
        raise SourceUnusable(f"cannot be read: {err.strerror}", item=str(path)) from None


def _marked(raw: bytes, name: str) -> Marked:
    try:
        return load_marked(decoded(raw, name), name)
    except MistakesFound as err:
        raise refused(name, err.mistakes) from None
