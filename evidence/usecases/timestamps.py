"""Time-stamps of an authority (RFC 3161) over signed heads: asked for, kept, judged again, and queued where nobody answers.

What one shows: the head, and so every entry under it, existed when the authority's clock said so. It does not show
that the entries are true, nor when before that they were made.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from evidence.errors import AuthorityFailed, EvidenceError, KeyUnusable
from evidence.ports import Desk
from evidence.record.attested import TokenFound, Waiting
from evidence.record.head import Head
from evidence.usecases.heads import NOTE, seal_head
from evidence.usecases.pen import need

State = Literal["stamped", "stamped before", "queued"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadStamp:
    """What became of the wish to have a head stamped."""

    head: Head
    state: State
    url: str
    found: TokenFound | None = None
    problem: str = ""  # why it is queued
    dossier: str = ""  # its short name, else its title, else the start of its ledger


def token_names(files: Iterable[str]) -> list[str]:
    """Names of the tokens among a head's files, in the order in which they were got."""
    names = [n for n in files if n.startswith("token-") and n.endswith(".tsr")]
    return sorted(names, key=lambda n: (len(n), n))


def timestamp(desk: Desk, dossier: str, url: str = "", *, again: bool = False) -> list[HeadStamp]:
    """Have the dossier's present head stamped, after those that wait from before.

    A head with a valid stamp is not sent again unless asked. Where the authority does not answer the head is queued.
    """
    url = url or desk.authority.url
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
    sealed = seal_head(desk, ledger)
    if not sealed.signed:
        raise KeyUnusable(
            f"the head is not signed, so there is nothing to stamp: {sealed.problem}", item=dossier,
            advice="Sign it with 'evidence heads sign', then run this command again.",
        )  # fmt: skip
    results = [_stamped(desk, waiting) for waiting in desk.authority.waiting() if waiting.head != sealed.head]
    before = [f for f in tokens(desk, sealed.head) if f.valid]
    waits = [w for w in desk.authority.waiting() if w.head == sealed.head]
    if before and not again and not waits:
        return _named(desk, [*results, HeadStamp(head=sealed.head, state="stamped before", url="", found=before[0])])
    if not url and not waits:
        raise EvidenceError(
            "which authority?", item="--authority",
            advice="Name one with --authority URL, or in a line 'authority = \"…\"' of settings.toml. Without one, "
            "'evidence heads line' prints a line to send to somebody today, which later pins the record as well.",
        )  # fmt: skip
    wanted = Waiting(sealed.head, url or waits[0].url)
    for old in waits:
        if old != wanted:
            desk.authority.done(old)
    return _named(desk, [*results, _stamped(desk, wanted)])


def _named(desk: Desk, results: Iterable[HeadStamp]) -> list[HeadStamp]:
    """Each with the dossier that it is of: what waited may be of another than the one asked about."""
    with desk.ledgers.reading() as view:
        rows = {row.id: row for row in view.dossiers("")}
    names = {ledger: row.name or row.title for ledger, row in rows.items()}
    return [replace(r, dossier=names.get(r.head.ledger, r.head.ledger[:8])) for r in results]


def tokens(desk: Desk, head: Head) -> list[TokenFound]:
    """Every time-stamp that is kept of a head, judged anew."""
    files = desk.shelf.files(head)
    if NOTE not in files:
        return []
    note = desk.shelf.read(head, NOTE)
    return [desk.authority.check(desk.shelf.read(head, name), note) for name in token_names(files)]


def _stamped(desk: Desk, wanted: Waiting) -> HeadStamp:
    desk.authority.wait(wanted)  # first of all: whatever happens now, the wish is not lost
    note = desk.shelf.read(wanted.head, NOTE)
    try:
        stamped = desk.authority.ask(wanted.url, note)
    except AuthorityFailed as err:
        return HeadStamp(head=wanted.head, state="queued", url=wanted.url, problem=str(err))
    names = token_names(desk.shelf.files(wanted.head))
    number = int(names[-1].removeprefix("token-").removesuffix(".tsr")) + 1 if names else 1
    files = {f"token-{number}.tsr": stamped.token, f"token-{number}.pem": stamped.certificates}
    desk.shelf.keep(wanted.head, files)
    desk.authority.done(wanted)
    found = desk.authority.check(stamped.token, note)
    return HeadStamp(head=wanted.head, state="stamped", url=wanted.url, found=found)
