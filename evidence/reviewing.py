"""Reviews, wired: a bundle that was received becomes values; the PDF and the bundle of a review are made. See :mod:`evidence.receiving`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from evidence.bundle.reader import open_bundle
from evidence.capture.packs import rules_of_files
from evidence.errors import SourceUnusable, StoreDamaged
from evidence.handing_over import MadeBundle, write_bundle
from evidence.model.dossier import fold
from evidence.model.exhibit import Exhibit
from evidence.publishing import MadeReport, ReportOptions, print_publication
from evidence.receiving import Asked, verify_received
from evidence.record.entry import Header, step_of
from evidence.review.disclosing import Choice
from evidence.review.exchange import Presented
from evidence.review.verdict import DAMAGED, INTACT, Verdict
from evidence.rules.assess import assess
from evidence.usecases.publish import publication
from evidence.usecases.review import Received, Review, Version, compare_versions, review_sheet, withheld_labels
from evidence.usecases.telling_verdict import files_kept_back

if TYPE_CHECKING:
    from evidence.ports import Desk, Progress

_RULES = "data/rules/"


def received_bundle(path: Path, progress: Progress, *, key: str = "", head: str = "") -> Received:
    """Check a bundle whole, and read what it shows.

    Raises :class:`StoreDamaged` where it is not intact, :class:`SourceUnusable` where that cannot be said.
    """
    verdict = verify_received(path, Asked(key=key, head=head), progress)
    if verdict.exit_code == DAMAGED and verdict.found.ledger:
        item, faults = next(iter(verdict.by_item.items()))
        raise StoreDamaged(
            f"{verdict.sentence}: {item} {faults[0].message}" + (", and more" if verdict.faults[1:] else ""), item=path.name,
            advice="'evidence verify' lists every fault. Ask the sender for the bundle again; keep this one as it is.",
        )  # fmt: skip
    if verdict.exit_code != INTACT:
        told = "; ".join([*verdict.unreadable, *(f"{f.item} {f.message}" for f in verdict.faults)][:3])
        raise SourceUnusable(f"cannot be read as a bundle: {told or verdict.sentence}", item=path.name)
    return replace(kept_bundle(path), verified="\n".join(_told(verdict)), signer=verdict.found.signer)


def kept_bundle(path: Path) -> Received:
    """What a bundle shows that was checked when it was taken in; it is judged by the rules that came with it."""
    with open_bundle(path) as bundle:
        entries = list(bundle.entries())
        kept_back = bundle.withheld["files"]
        files = {name.removeprefix(_RULES): bundle.read(name) for name in bundle.names if name.startswith(_RULES)}
    vocabulary, packs = rules_of_files(files)
    steps = [step_of(entry) for entry in entries]
    bare = (f"file of {label}" for label in files_kept_back(steps, kept_back))
    dossier = fold(Header.read(entries[0].header).ledger, steps)
    return Received(
        version=Version(dossier=dossier, leaves=tuple(e.leaf for e in entries)), packs=packs, vocabulary=vocabulary,
        assessment=assess(dossier, packs, vocabulary), withheld=(*withheld_labels(steps), *bare),
    )  # fmt: skip


def _told(verdict: Verdict) -> Iterator[str]:
    """The verdict line by line, each below what it belongs to."""
    yield verdict.sentence
    for head, lines in (("Shown", verdict.shown), ("Asserted only", verdict.asserted), ("Missing", verdict.missing)):
        yield from (f"{head}: {line}" for line in lines)


def write_review_bundle(desk: Desk, folder: Path, review: Review, out: Path, progress: Progress) -> MadeBundle:
    """Make the bundle of a review; the bundles that it is about stay out, their owner has them."""
    choice = Choice(files=review.bundles)
    return write_bundle(desk, folder, review.ledger, choice, out, progress, review=presented(desk, review))


def write_review_report(
    desk: Desk, folder: Path, review: Review, out: Path, since: Path | None, progress: Progress
) -> MadeReport:
    """Make the PDF of a review. ``since``: an earlier bundle to compare with, instead of the one before."""
    found = replace(publication(desk, review.ledger), review=presented(desk, review, since))
    return print_publication(desk, folder, found, out, ReportOptions(), progress)


def presented(desk: Desk, review: Review, since: Path | None = None) -> Presented:
    """A review as it is printed: beside the bundle under review, compared with the one before."""
    received = kept_bundle(Path(desk.originals.path(review.bundle)))
    earlier = since or (Path(desk.originals.path(review.before)) if review.before else None)
    compared = None
    if earlier:
        compared, _continues = compare_versions(
            kept_bundle(earlier).version, received.version, received.packs, received.vocabulary
        )
    file = review.dossier.by_subject[review.of.bundle].value
    assert isinstance(file, Exhibit)
    assert file.file
    return Presented(
        of=review.of, sheet=review_sheet(review, received), compared=compared, bundle_name=file.file.name,
        bundle_sha256=file.file.sha256,
    )  # fmt: skip
