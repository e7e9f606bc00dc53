"""Vocabulary and rule packs from their files: those of the program and a shop's own."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

from evidence.capture.marked_yaml import load_marked
from evidence.rules.pack import Pack
from evidence.rules.reading import parse_pack
from evidence.rules.vocabulary import Vocabulary


def load_vocabulary(extra: Sequence[Path] = ()) -> Vocabulary:
    """The program's components and word lists, with those of ``extra`` files added."""
    raw = load_marked((files("evidence.rules") / "components.yaml").read_text("utf-8"), "components.yaml").data
    return Vocabulary.parse(raw, [load_marked(p.read_text("utf-8"), str(p)).data for p in extra])


def load_packs(vocabulary: Vocabulary, extra: Sequence[Path] = ()) -> tuple[Pack, ...]:
    """The program's packs and those of ``extra`` files, by name."""
    found = sorted(
        (f for f in (files("evidence.rules") / "packs").iterdir() if f.name.endswith(".yaml")), key=lambda f: f.name
    )
    packs = []
    for file in [*found, *extra]:
        marked = load_marked(file.read_text("utf-8"), file.name)
        packs.append(parse_pack(marked.data, file=file.name, locate=marked.locate, vocabulary=vocabulary))
    return tuple(packs)
