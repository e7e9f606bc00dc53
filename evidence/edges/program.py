"""Which program this is: its version, and a mark of the code that judges, so that two builds of one number are told apart."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

from evidence import __version__

_JUDGES = ("model", "measure", "timeline", "rules")  # what findings are computed by, beside record and packs


@cache
def program() -> str:
    """Version and code: ``0.1.0+3f9a0c51d2e4``, written as a local version (PEP 440)."""
    return f"{__version__}+{code_mark(_JUDGES)}"


def code_mark(packages: Iterable[str]) -> str:
    """A mark of the code in these packages: 12 hexadecimal digits."""
    seen = hashlib.sha256()
    for package in packages:
        for name, source in sorted((s.name, s) for s in _sources(files("evidence") / package)):
            seen.update(f"{package}/{name}\n".encode() + hashlib.sha256(source.read_bytes()).digest())
    return seen.hexdigest()[:12]


def _sources(folder: Traversable) -> list[Traversable]:
    return [item for item in folder.iterdir() if item.name.endswith(".py")]
