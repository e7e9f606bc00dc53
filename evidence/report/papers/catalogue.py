"""What the catalogues ``vocabulary`` and ``rules`` must know beside the messages in the code of the papers.

The extractors are for ``pybabel extract``, which finds them in the mapping of ``pyproject.toml``.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator, Mapping
from typing import IO, Any, Final, get_args

from evidence.claim.place import ENTRIES
from evidence.model.base import say
from evidence.model.examination import ActuatorTest
from evidence.model.kinds import KINDS, many
from evidence.model.people import Consent, Correspondence
from evidence.model.quantity import QUANTITIES
from evidence.model.repair import Intervention
from evidence.rules.assessment import Status
from evidence.rules.ceilings import CANDIDATE_ONLY, NO_STATEMENT
from evidence.rules.common import general_alternatives
from evidence.rules.planning.papers import TEXTS
from evidence.rules.statement import SENTENCES
from evidence.rules.weighing import band_words, other_words

Found = tuple[int, None, str, list[str]]  # line, function, message, comments, as babel asks for them

_WORDS: Final = (
    (Consent, "to"), (Consent, "channel"), (Correspondence, "about"), (Correspondence, "channel"), (Intervention, "action"),
    (ActuatorTest, "response"),
)  # fmt: skip
_ASKING: Final = {"t": 0, "message": 0, "words": 0, "blank": 1}  # function -> place of the message
_LEVELS: Final = range(7)


def closed_words() -> Iterator[str]:
    """Words of closed lists that papers print: quantities, kinds of records and their plurals, what was done and how."""
    yield from map(say, QUANTITIES)
    for kind in KINDS.values():
        yield from (kind.label, many(kind.label))
    for record, field in _WORDS:
        yield from map(say, get_args(record.model_fields[field].annotation))
    yield from get_args(Status)
    yield from ENTRIES


def general_texts() -> Iterator[str]:
    """What the rules say beside the packs: the weight in words, general alternatives, papers to get."""
    yield from SENTENCES
    yield from (CANDIDATE_ONLY, NO_STATEMENT)
    yield from dict.fromkeys([*map(band_words, _LEVELS), *map(other_words, _LEVELS)])
    for general in general_alternatives(("engine",)):
        yield from (general.claim, general.test)
    yield from TEXTS


def pack_texts(raw: Mapping[str, Any]) -> Iterator[str]:
    """What papers print of a pack as loaded from its file: findings, alternatives with their tests, what to capture first."""
    for mechanism in raw.get("mechanisms", ()):
        yield mechanism["title"]
        yield mechanism["departure"]["text"]
        yield from (f["statement"] for f in mechanism["findings"])
        yield from (text for a in mechanism["alternatives"] for text in (a["claim"], a["test"]))
        yield from mechanism.get("capture", {}).get("before", ())


def component_titles(raw: Mapping[str, Any]) -> Iterator[str]:
    """The components of a vocabulary as loaded from its file, as they are printed."""
    for members in raw.get("components", {}).values():
        yield from (entry.get("title", name.replace("-", " ")) for name, entry in members.items())


def code_messages(source: str) -> Iterator[str]:
    """What a module of the papers asks of the catalogue: ``t("…")``, ``message("…")``, ``….words("…")``, a blank's second word."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        place = _ASKING.get(getattr(node.func, "id", getattr(node.func, "attr", "")))
        if place is None or len(node.args) <= place:
            continue
        said = node.args[place]
        if isinstance(said, ast.Constant) and isinstance(said.value, str) and said.value:
            yield said.value


def extract_code(file: IO[bytes], _keywords: object, _tags: object, options: object) -> Iterator[Found]:  # noqa: ARG001 (the library names it)
    """For babel, whose own reader passes over messages inside of f-strings."""
    return _lines(code_messages(file.read().decode()))


def extract_words(_file: IO[bytes], _keywords: object, _tags: object, options: object) -> Iterator[Found]:  # noqa: ARG001 (the library names it)
    """For babel: the closed words, from the file that lists the kinds of records."""
    return _lines(closed_words())


def extract_general(_file: IO[bytes], _keywords: object, _tags: object, options: object) -> Iterator[Found]:  # noqa: ARG001 (the library names it)
    """For babel: the general texts of the rules."""
    return _lines(general_texts())


def extract_pack(file: IO[bytes], _keywords: object, _tags: object, options: object) -> Iterator[Found]:  # noqa: ARG001 (the library names it)
    """For babel: the texts of a rule pack."""
    return _lines(pack_texts(_loaded(file)))


def extract_components(file: IO[bytes], _keywords: object, _tags: object, options: object) -> Iterator[Found]:  # noqa: ARG001 (the library names it)
    """For babel: the components of the vocabulary."""
    return _lines(component_titles(_loaded(file)))


def _loaded(file: IO[bytes]) -> Mapping[str, Any]:
    import yaml

    loaded: Mapping[str, Any] = yaml.load(file, Loader=yaml.BaseLoader)  # noqa: S506 (makes texts of every scalar)
    return loaded


def _lines(texts: Iterable[str]) -> Iterator[Found]:
    return ((1, None, text, []) for text in dict.fromkeys(texts))
