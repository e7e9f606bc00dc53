"""Every paper there is, by its name."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from evidence.report.papers.forms import FORMS
from evidence.report.papers.letters import LETTERS
from evidence.report.papers.paper import Kind

PAPERS: Final[Mapping[str, Kind]] = MappingProxyType({**LETTERS, **FORMS})
