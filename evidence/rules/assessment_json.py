"""The stable form of an assessment. Keys are the field names of :mod:`evidence.rules.assessment`; ``format`` is 1.

Records are named by label (``Exhibit 7``), never by id, so two intakes of one folder agree. Exact ratios are text
(``9604/163``), days and kilometres are text in plain decimals; what is not known is null or an empty text.
"""

from __future__ import annotations

import dataclasses
import json
from typing import Any

from evidence.rules.assessment import Assessment
from evidence.rules.capture_plan import CapturePlan


def as_json(assessment: Assessment) -> dict[str, Any]:
    """Plain data: texts, numbers of counts, booleans, lists, objects. Exact ratios as text ``n/d``, days and km as text."""
    plain = _plain(assessment)
    assert isinstance(plain, dict)
    return {"format": 1, **plain}


def plan_as_json(title: str, entries: int, plan: CapturePlan) -> dict[str, Any]:
    """The capture plan alone; keys are the field names of :mod:`evidence.rules.capture_plan`."""
    plain = _plain(plan)
    assert isinstance(plain, dict)
    return {"format": 1, "title": title, "entries": entries, **plain}


def as_bytes(assessment: Assessment) -> bytes:
    """The file ``findings.json`` of a PDF and a bundle: sorted keys, two spaces, a final newline. Same assessment, same bytes."""
    return (json.dumps(as_json(assessment), ensure_ascii=False, indent=2, sort_keys=True) + "\n").encode()


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    if value is None or isinstance(value, (bool, int, str)):
        return value
    return str(value)  # Fraction and Decimal, exact
