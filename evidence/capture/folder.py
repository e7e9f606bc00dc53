"""A dossier folder, and bare heaps of files: which files there are, and which are left alone and why.

Rules enforced here: a file named in a dossier lies inside the dossier's folder and is reached by plain
folders only; links are never followed and pipes and devices never opened; a name stays as given, and what
is shown of it holds no character that could act on a terminal or turn the reading order.
"""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Final

from evidence.capture.marked_yaml import Marked, decoded, load_marked
from evidence.capture.plain_file import open_plain, why_not_plain
from evidence.errors import Mistake, MistakesFound

DOSSIER_FILE: Final = "dossier.yaml"
_MOST_LISTED: Final = 5_000  # entries looked at for a suggestion


@dataclass(frozen=True, slots=True)
class Skipped:
    """A thing in a heap that is not taken, and why."""

    path: Path
    reason: str


@dataclass(frozen=True, slots=True)
class DossierFolder:
    """A folder with its ``dossier.yaml`` read. ``data`` and places: :class:`Marked`."""

    path: Path
    marked: Marked

    def resolve(self, name: str) -> Path:
        """The plain, readable file that ``name`` means; ``ValueError`` says what is wrong and what would be right."""
        here = self.path
        parts = _parts(name)
        for at, part in enumerate(parts):
            here = here / self._entry(here, part, name)
            try:
                mode = here.lstat().st_mode
            except OSError as err:
                raise ValueError(f"{shown(name)!r} cannot be looked at: {err.strerror}") from None
            what = why_not_plain(mode)
            if at < len(parts) - 1 and what != "a folder":
                raise ValueError(f"{shown(name)!r}: {shown(part)!r} is {what or 'a file'}, not a folder")
            if at == len(parts) - 1 and what:
                raise ValueError(f"{shown(name)!r} is {what}; name a plain file in this folder")
        if not os.access(here, os.R_OK):
            raise ValueError(f"{shown(name)!r} may not be read; change its permissions")
        return here

    def _entry(self, folder: Path, part: str, name: str) -> str:
        """The entry of ``folder`` that ``part`` means: as written, else the only one that differs in Unicode form."""
        try:
            if os.path.lexists(folder / part):
                return part
            entries = _names(folder)
        except (OSError, ValueError) as err:  # a name too long, or one no disk can hold
            reason = err.strerror if isinstance(err, OSError) else err
            raise ValueError(f"{shown(name)!r} cannot be looked up: {reason}") from None
        same = [e for e in entries if unicodedata.normalize("NFC", e) == unicodedata.normalize("NFC", part)]
        if len(same) == 1:
            return same[0]
        if same:
            raise ValueError(f"{shown(name)!r} could be any of {len(same)} files whose names only look the same")
        raise ValueError(f"there is no file {shown(name)!r} in this folder{self._suggestion(name)}")

    def _suggestion(self, name: str) -> str:
        known = [os.path.relpath(f, self.path).replace(os.sep, "/") for f in _some_files(self.path)]
        known = [k for k in known if k != DOSSIER_FILE]
        folded = {k.casefold(): k for k in known}
        close = get_close_matches(name.casefold(), folded, n=1, cutoff=0.5)
        if not close:  # the right name in another folder
            last = name.rsplit("/", 1)[-1].casefold()
            close = [k for k in folded if k.rsplit("/", 1)[-1] == last][:1]
        return f"; did you mean {shown(folded[close[0]])!r}?" if close else ""


def open_folder(path: Path) -> DossierFolder:
    """Read the ``dossier.yaml`` of a folder. Everything wrong with it is raised as one ``MistakesFound``."""
    file = path / DOSSIER_FILE
    given = shown(str(path))
    try:
        entries = _names(path)
    except NotADirectoryError:
        raise _mistake(given, "is not a folder", f"name the folder that holds {DOSSIER_FILE}") from None
    except OSError as err:
        raise _mistake(
            given, f"cannot be opened: {err.strerror}", "name a folder that exists and may be read"
        ) from None
    if DOSSIER_FILE not in entries:
        like = [e for e in entries if e.casefold() in (DOSSIER_FILE, "dossier.yml", "dossier.yaml.txt", "dossier.txt")]
        right = f"rename {shown(like[0])!r} to {DOSSIER_FILE!r}" if like else f"write a {DOSSIER_FILE} in it"
        raise _mistake(given, f"holds no file {DOSSIER_FILE!r}", right)
    try:
        with open_plain(file) as stream:
            raw = stream.read(5_000_001)
    except ValueError as err:
        raise _mistake(shown(str(file)), str(err), "put the file itself here") from None
    except OSError as err:
        raise _mistake(shown(str(file)), f"cannot be read: {err.strerror}", "change its permissions") from None
    return DossierFolder(path, load_marked(decoded(raw, DOSSIER_FILE), DOSSIER_FILE))


def walk(paths: Iterable[Path]) -> tuple[list[Path], list[Skipped]]:
    """All plain files under ``paths``, folders gone through in order of their bytes, and what is left out and why."""
    files: dict[Path, None] = {}  # a path named twice is taken once
    skipped: list[Skipped] = []
    ahead = [Path(p) for p in reversed(list(paths))]
    while ahead:
        path = ahead.pop()
        try:
            what = why_not_plain(path.lstat().st_mode)
            if what == "a folder":
                ahead.extend(path / name for name in reversed(_names(path)))
                continue
        except (OSError, ValueError) as err:
            skipped.append(Skipped(path, _reason(err)))
            continue
        if not what and not os.access(path, os.R_OK):
            what = "unreadable: permission denied"
        if what:
            skipped.append(Skipped(path, what))
        else:
            files[path] = None
    return list(files), skipped


def name_of(path: Path) -> tuple[str, str | None]:
    """The file's name as text, and its bytes as hexadecimal where they are not UTF-8 (then the text is for reading)."""
    raw = os.fsencode(path.name)
    try:
        return raw.decode("utf-8"), None
    except UnicodeDecodeError:
        return raw.decode("utf-8", "backslashreplace"), raw.hex()


def shown(name: str) -> str:
    r"""``name`` with each control, format and separator character and lone surrogate written as ``\u{…}``."""
    return "".join(
        f"\\u{{{ord(ch):x}}}" if unicodedata.category(ch) in ("Cc", "Cf", "Cs", "Zl", "Zp") else ch for ch in name
    )


def alike(names: Iterable[str]) -> list[tuple[tuple[str, ...], str]]:
    """Groups of different names that some systems take for one, each with what tells them apart."""
    groups: dict[str, dict[str, None]] = {}
    for name in names:
        folded = unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
        groups.setdefault(folded, {})[name] = None
    found = []
    for group in groups.values():
        if len(group) > 1:
            one_form = len({unicodedata.normalize("NFC", n) for n in group}) == 1
            one_case = len({n.casefold() for n in group}) == 1
            by = "Unicode form" if one_form else "capital letters" if one_case else "capital letters and Unicode form"
            found.append((tuple(sorted(group)), f"differ only in {by}"))
    return found


def _parts(name: str) -> list[str]:
    """The steps of a relative name, or ``ValueError``."""
    inside = "name a file inside this folder, such as photos/eyelet.jpg"
    if not name.strip():
        raise ValueError(f"the file's name is empty; {inside}")
    if "\0" in name:
        raise ValueError(f"{shown(name)!r} holds a NUL character; {inside}")
    if name.startswith(("/", "\\", "~")) or re.match(r"[A-Za-z]:[\\/]", name):
        raise ValueError(f"{shown(name)!r} is an absolute path; {inside}")
    parts = [p for p in name.split("/") if p not in ("", ".")]
    if ".." in parts or ".." in name.split("\\"):
        raise ValueError(f"{shown(name)!r} leaves this folder; {inside}")
    if not parts or name.endswith("/"):
        raise ValueError(f"{shown(name)!r} is a folder; {inside}")
    if any("\ud800" <= ch <= "\udfff" for ch in name):
        raise ValueError(f"{shown(name)!r} holds a character that no text may hold; rename the file")
    return parts


def _names(folder: Path) -> list[str]:
    return sorted((entry.name for entry in folder.iterdir()), key=os.fsencode)


def _some_files(folder: Path) -> Iterator[Path]:
    seen = 0
    ahead = [folder]
    while ahead and seen < _MOST_LISTED:
        try:
            with os.scandir(ahead.pop()) as entries:
                for entry in entries:
                    seen += 1
                    if entry.is_dir(follow_symlinks=False):
                        ahead.append(Path(entry.path))
                    elif entry.is_file(follow_symlinks=False):
                        yield Path(entry.path)
        except OSError:
            continue


def _reason(err: OSError | ValueError) -> str:
    if isinstance(err, FileNotFoundError):
        return "does not exist"
    return f"unreadable: {(err.strerror or str(err)) if isinstance(err, OSError) else err}".lower()


def _mistake(file: str, message: str, right: str) -> MistakesFound:
    return MistakesFound([Mistake(file, 0, 0, "", message, right)])
