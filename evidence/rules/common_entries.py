"""What applies to every mechanism, read from data: the common findings C1 to C10 and the default alternatives.

Their asks are written once for all entries: the word ``mechanism`` after ``of`` stands for the components of the
mechanism at hand, and is put in place before the ask is read.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import ValidationError

from evidence.errors import Mistake
from evidence.model.base import Line, Slug, Text
from evidence.model.mistakes import Locate, mistakes_of, nowhere
from evidence.rules.asks import Ask, FindingId
from evidence.rules.criteria import Closed
from evidence.rules.pack import Alternative, Grade, Source
from evidence.rules.reading import COMMON_IDS, context_of, refused, word_faults
from evidence.rules.vocabulary import Vocabulary

PLACEHOLDER = "mechanism"


class CommonFinding(Closed):
    """One thing that every entry must show. Common findings bound what may be said; they do not weigh."""

    id: FindingId
    limb: Literal[
        "opportunity", "time order", "custody", "departure", "quality", "standard of work", "extent", "cure", "rivals"
    ]
    kind: Literal["measurement", "observation", "record"]
    statement: Text
    asks: Ask
    if_true: Grade
    if_not: Grade


class Common(Closed):
    """The common findings and default alternatives for one set of components."""

    id: Slug
    version: Line
    title: Line
    sources: dict[Line, Source]
    findings: tuple[CommonFinding, ...]
    alternatives: tuple[Alternative, ...]


def parse_common(
    raw: Mapping[str, Any],
    components: tuple[str, ...],
    *,
    file: str,
    locate: Locate = nowhere,
    vocabulary: Vocabulary | None = None,
) -> Common:
    """Read the common entries as they apply to ``components``. Raises :class:`BadPack` with every fault."""
    faults: list[Mistake] = []
    common = None
    try:
        common = Common.model_validate(
            _placed(raw, list(components)), context=context_of(vocabulary) if vocabulary else {}
        )
    except ValidationError as err:
        faults += mistakes_of(err, Common, file=file, item="common", locate=locate)
    if vocabulary:
        faults += word_faults(raw, file, locate, vocabulary)
    if common and tuple(f.id for f in common.findings) != COMMON_IDS:
        line, column = locate(("findings",))
        faults.append(Mistake(file, line, column, "common, findings", f"are not {COMMON_IDS[0]} to {COMMON_IDS[-1]}"))
    if faults or common is None:
        raise refused(f"rule pack {file}", faults)
    return common


def _placed(node: Any, components: list[str]) -> Any:
    if isinstance(node, Mapping):
        return {
            key: components if key == "of" and value == PLACEHOLDER else _placed(value, components)
            for key, value in node.items()
        }
    return [_placed(item, components) for item in node] if isinstance(node, list) else node
