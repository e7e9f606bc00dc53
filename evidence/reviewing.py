"""Composition for what is received: a bundle read and checked, a review's own bundle and PDF. Beside :mod:`evidence.bootstrap`."""

from __future__ import annotations

from base64 import b64encode
from pathlib import Path
from typing import TYPE_CHECKING

from evidence.bootstrap import rules_of
from evidence.errors import SourceUnusable
from evidence.model.exhibit import Exhibit
from evidence.ports import Desk
from evidence.record.merkle import root_of

if TYPE_CHECKING:
    from evidence.usecases.review import Received, Review


def received_bundle(path: Path, *, key: str = "", head: str = "", quick: bool = False) -> Received:
    """Read and check a bundle; what it shows is folded, and assessed anew. ``quick``: its files are not hashed again."""
    from evidence.bundle.alone import ledger, opening, verify
    from evidence.bundle.layout import CONTENTS, HEADERS
    from evidence.model.dossier import fold
    from evidence.record.entry import Entry, step_of
    from evidence.rules.assess import assess
    from evidence.usecases.review import Received, Version, withheld_labels

    try:
        found = verify.check(str(path), key, head, quick=quick)
    except opening.Unusable as err:
        raise SourceUnusable(str(err).removeprefix(f"{path}: "), item=path.name) from None
    if found.ledger is None:
        raise SourceUnusable(f"is no bundle: {verify.verdict(found)}", item=path.name)
    lines = zip(*(ledger.lines(found.names[name]) for name in (HEADERS, CONTENTS)), strict=True)
    entries = [Entry(header, content or None) for header, content in lines]
    steps = [step_of(entry) for entry in entries]
    dossier = fold(found.ledger.ledger, steps)
    vocabulary, packs = rules_of(None)
    return Received(
        version=Version(dossier=dossier, leaves=tuple(e.leaf for e in entries)), intact=found.exit_code == 0,
        assessment=assess(dossier, packs, vocabulary), verified=verify.verdict(found), signer=found.signer,
        withheld=withheld_labels(steps),
    )  # fmt: skip


def write_review_report(desk: Desk, review: Review, received: Received, out: Path, since: Path | None) -> int:
    """Make the PDF of a review; returns how many pages it has. ``since``: an earlier bundle to compare with."""
    from evidence.report.pdf import print_report
    from evidence.report.review_report import ReviewInput, review_outline
    from evidence.report.writing import whole_file
    from evidence.usecases.review import compare_versions, own_version, review_sheet

    vocabulary, packs = rules_of(None)
    earlier = since or (Path(desk.originals.path(review.before)) if review.before else None)
    compared = None
    if earlier:
        compared, _continues = compare_versions(
            received_bundle(earlier, quick=since is None).version, received.version, packs, vocabulary
        )
    file = review.dossier.by_subject[review.of.bundle].value
    assert isinstance(file, Exhibit)
    assert file.file
    assert review.dossier.last_at
    given = ReviewInput(
        review=review.dossier, of=review.of, sheet=review_sheet(review, received), at=review.dossier.last_at,
        bundle_name=file.file.name, bundle_sha256=file.file.sha256, compared=compared,
        root_base64=b64encode(root_of(own_version(desk, review.ledger).leaves)).decode(),
    )  # fmt: skip
    with whole_file(out) as stream:
        return print_report(review_outline(given), stream)
