"""Chains and faults of custody in a stable form: records by label, moments as given and as spans in UTC."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from evidence.model.when import TimeSpan, utc_text
from evidence.timeline.chains import Chain, Link
from evidence.timeline.custody import CustodyFault


def as_json(
    title: str, chains: Iterable[Chain], faults: Iterable[CustodyFault], doubts: Iterable[CustodyFault]
) -> dict[str, Any]:
    """Plain objects for JSON; ``format`` 1. What is not stated is an empty text or null."""
    return {
        "format": 1,
        "title": title,
        "chains": [_chain(c) for c in chains],
        "faults": [_fault(f) for f in faults],
        "doubts": [_fault(f) for f in doubts],
    }


def _chain(chain: Chain) -> dict[str, Any]:
    return {
        "item": chain.item, "kind": chain.kind, "what": chain.what, "holder": chain.holder.name if chain.holder else None,
        "sha256": chain.digest, "links": [_link(link) for link in chain.links],
        "examined": [h.record for h in chain.handled if h.sure and not h.used],
    }  # fmt: skip


def _link(link: Link) -> dict[str, Any]:
    return {
        "record": link.record, "act": link.act, "released_by": link.given_by.name if link.given_by else None,
        "received_by": link.taken_by.name, "released": _span(link.left, link.when), "received": _span(link.came, link.when_came),
        "place": link.place, "purpose": link.purpose, "condition": link.condition, "container": link.container,
        "seal": link.seal, "seal_opened": link.seal_opened, "fate": link.fate, "knowing": link.knowing,
        "both_signed": link.both_signed, "exhibits": list(link.exhibits),
    }  # fmt: skip


def _span(span: TimeSpan, given: str) -> dict[str, str]:
    return {"given": given, "earliest": utc_text(span.earliest), "latest": utc_text(span.latest)}


def _fault(fault: CustodyFault) -> dict[str, Any]:
    return {"code": fault.code, "item": fault.item, "sentence": fault.sentence, "records": list(fault.records)}
