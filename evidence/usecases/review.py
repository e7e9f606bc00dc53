"""The reviewer's side: a bundle that was received becomes a review, a dossier of its own that speaks of another.

The opening of a review names the reviewed ledger and its head; a later bundle of the same ledger amends it. Marks, questions and
the reviewer's own records are entries like any other, so that a review goes back as a bundle that anyone can check.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evidence.errors import EvidenceError, NotFound, StoreDamaged
from evidence.model.base import Json
from evidence.model.dossier import Dossier, Step
from evidence.model.exhibit import Exhibit
from evidence.model.happening import DossierOpening
from evidence.model.kinds import label_of
from evidence.model.people import Party
from evidence.model.reviewing import Reviewed
from evidence.ports import Desk, Known, Reader, Source, Taken, Writer
from evidence.record.merkle import root_of
from evidence.review.compare import Comparison, compare
from evidence.review.exchange import Sheet, find_target, sheet
from evidence.rules.assess import assess
from evidence.rules.assessment import Assessment
from evidence.rules.pack import Pack
from evidence.rules.vocabulary import Vocabulary
from evidence.usecases.pen import Pen, read_dossier, recorder_party
from evidence.usecases.record import Entered, record_one, take_one


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One state of a dossier, from a bundle or from a workspace: its records, and the leaves that prove which state."""

    dossier: Dossier
    leaves: tuple[bytes, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """A bundle that was found intact, and the rules that came with it, by which it was assessed."""

    version: Version
    assessment: Assessment
    packs: tuple[Pack, ...]
    vocabulary: Vocabulary
    verified: str = ""  # the verdict in words, a line for each part
    signer: str = ""  # fingerprint of the key that signed it, or empty
    withheld: tuple[
        str, ...
    ] = ()  # labels of the records that it does not show, and "file of" exhibits shown without theirs

    @property
    def dossier(self) -> Dossier:
        """The records that the bundle shows."""
        return self.version.dossier


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A review that was opened, or brought up to a later bundle."""

    review: str  # short name
    title: str
    new: bool
    entries: int
    before: int = 0  # entries of the version that was under review until now


def withheld_labels(steps: Iterable[Step]) -> tuple[str, ...]:
    """Labels of the records whose newest content is not here: numbers come from the headers alone."""
    labels: dict[str, str] = {}
    counts: dict[str, int] = {}
    newest: dict[str, bool] = {}
    for step in steps:
        if step.action == "record":
            counts[step.kind] = counts.get(step.kind, 0) + 1
            labels[step.subject] = label_of(step.kind, counts[step.kind])
        if step.action != "withdraw":
            newest[step.subject] = step.body is not None
    return tuple(label for subject, label in labels.items() if not newest[subject])


def open_review(desk: Desk, received: Received, source: Source, name: str = "") -> Opened:
    """Take a received bundle under review, or bring the review of that dossier up to a later bundle of it."""
    if received.dossier.opening.reviews:
        raise EvidenceError(
            f"holds a review of “{received.dossier.opening.reviews.title}”, not a dossier", item=source.name,
            advice="The shop takes it in with 'evidence review accept FILE'.",
        )  # fmt: skip
    with desk.ledgers.reading() as view:
        known = _review_of(view, received.dossier.ledger)
        if known:
            _check_continues(known[1], received, source)
        sizes = view.stored_sizes()
    taken = take_one(desk, source, sizes)
    if known:
        return _bring_up(desk, known, received, taken)
    return _open(
        desk, received, taken, name or f"review-{received.dossier.opening.name or received.dossier.ledger[:8]}"
    )


def _open(desk: Desk, received: Received, taken: Taken, name: str) -> Opened:
    title = f"Review of: {received.dossier.title}"
    with desk.ledgers.writing() as work:
        if work.find(name):
            raise EvidenceError(
                "a dossier of this short name is open already", item=name, advice="Give another with --name."
            )
        own, bundle = desk.ids.subject(), desk.ids.subject()
        pen = Pen(desk, work, desk.ids.ledger(), recorded_by=own, via="review")
        pen.record(_reviewer(desk), own)
        pen.record(_bundle(received, taken), bundle)
        fields: Json = {"title": title[:500], "name": name, "zone": desk.zone}
        fields |= {"demonstration": True} if received.dossier.opening.demonstration else {}
        opening = DossierOpening.handed_in(fields, {}).model_copy(update={"reviews": _reviewed(received, bundle)})
        pen.record(opening, desk.ids.subject())
        pen.put_down()
        work.commit()
    return Opened(review=name, title=received.dossier.title, new=True, entries=received.dossier.size)


def _bring_up(desk: Desk, known: tuple[Known, Reviewed], received: Received, taken: Taken) -> Opened:
    opening, before = known
    result = Opened(
        review=opening.name,
        title=received.dossier.title,
        new=False,
        entries=received.dossier.size,
        before=before.entries,
    )
    with desk.ledgers.writing() as work:
        ledger = opening.ledger
        work.state(ledger)
        held = read_dossier(work, ledger)
        shown = held.by_subject[before.bundle].value
        if isinstance(shown, Exhibit) and shown.file and taken.file and shown.file.sha256 == taken.file.sha256:
            return result  # the very bundle again
        pen = Pen(desk, work, ledger, recorded_by=_own(desk, held), via="review")
        bundle = desk.ids.subject()
        pen.record(_bundle(received, taken), bundle)
        changed = held.opening.model_copy(update={"reviews": _reviewed(received, bundle)})
        pen.amend(opening, changed, f"a later bundle was received: {received.dossier.size} entries")
        pen.put_down()
        work.commit()
    return result


def _check_continues(before: Reviewed, received: Received, source: Source) -> None:
    leaves = received.version.leaves
    if len(leaves) < before.entries:
        raise EvidenceError(
            f"holds {len(leaves)} entries; the bundle under review holds {before.entries} already", item=source.name,
            advice="This is the earlier one: lay the two side by side with 'evidence review compare'.",
        )  # fmt: skip
    if root_of(leaves[: before.entries]) != b64decode(before.root):
        raise StoreDamaged(
            f"does not continue the bundle under review: its first {before.entries} entries are not the same",
            item=source.name, advice="Two histories of one dossier. Keep both files, and ask the sender.",
        )  # fmt: skip


def _bundle(received: Received, taken: Taken) -> Exhibit:
    caption = f"Bundle of “{received.dossier.title}” as received, {received.dossier.size} entries"
    return Exhibit(caption=caption[:2000], file=taken.file, read=taken.facts)


def _reviewed(received: Received, bundle: str) -> Reviewed:
    return Reviewed(
        ledger=received.dossier.ledger, title=received.dossier.title, entries=received.dossier.size,
        root=b64encode(root_of(received.version.leaves)).decode(), bundle=bundle, verified=received.verified,
        signer=received.signer or None,
    )  # fmt: skip


def _reviewer(desk: Desk) -> Party:
    raw: Json = {"full_name": desk.recorder.full_name, "roles": ["adjuster"]}
    raw |= {"firm": desk.recorder.firm} if desk.recorder.firm else {}
    raw |= {"qualification": desk.recorder.qualification} if desk.recorder.qualification else {}
    return Party.handed_in(raw, {})


def _own(desk: Desk, held: Dossier) -> str:
    """The party of whoever works here; the first one where the settings have changed since."""
    parties = held.of(Party)
    return next((p.subject for p in parties if p.value.full_name == desk.recorder.full_name), parties[0].subject)


def _reviews(view: Reader) -> list[tuple[Known, Reviewed]]:
    """Every review of the workspace: its opening, and what it is a review of."""
    found: list[tuple[Known, Reviewed]] = []
    for ledger in view.ledgers():
        for known, body in view.opening_and_parties(ledger):
            if known.kind == "dossier" and "reviews" in body:
                found.append((known, Reviewed.model_validate(body["reviews"])))
    return found


def _review_of(view: Reader, ledger: str) -> tuple[Known, Reviewed] | None:
    return next(((known, of) for known, of in _reviews(view) if of.ledger == ledger), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """A review of the workspace: its records, what it is a review of, and the file that is under review."""

    name: str
    ledger: str
    dossier: Dossier
    of: Reviewed
    bundle: str  # SHA-256 of the file under review
    bundles: tuple[str, ...]  # labels of the exhibits that are bundles as received, the newest last
    before: str = ""  # SHA-256 of the file that was under review before it


def find_review(desk: Desk, name: str = "") -> Review:
    """The review called ``name``; without a name the only one of the workspace."""
    with desk.ledgers.reading() as view:
        found = _reviews(view)
        wanted = [f for f in found if f[0].ledger == view.find(name)] if name else found
        if not wanted:
            raise NotFound(
                "no such review in this workspace" if name else "there is no review in this workspace", item=name,
                advice="'evidence review BUNDLE --in DIR' begins one.",
            )  # fmt: skip
        if len(wanted) > 1:
            raise EvidenceError(
                f"this workspace holds {len(wanted)} reviews", item=", ".join(k.name for k, _ in wanted),
                advice="Say which one with --review.",
            )  # fmt: skip
        ((known, of),) = wanted
        held = read_dossier(view, known.ledger)
    opening = held.by_subject[known.subject]
    subjects = dict.fromkeys(v.body["reviews"]["bundle"] for v in opening.versions)
    exhibits = [held.by_subject[s] for s in subjects]
    files = [e.value.file.sha256 for e in exhibits if isinstance(e.value, Exhibit) and e.value.file]
    return Review(
        name=known.name, ledger=known.ledger, dossier=held, of=of, bundle=files[-1],
        bundles=tuple(e.label for e in exhibits), before=files[-2] if len(files) > 1 else "",
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkWords:
    """A mark as a person gives it. ``records`` and ``exhibits`` are short names or numbers in the review."""

    on: str
    name: str = ""
    mechanism: str = ""
    mark: str
    text: str = ""
    records: tuple[str, ...] = ()
    exhibits: tuple[str, ...] = ()


def mark(desk: Desk, review: Review, received: Received, words: MarkWords) -> Entered:
    """Put a mark on one thing of the dossier under review."""
    on, mechanism, name = find_target(received.dossier, received.assessment, words.on, words.mechanism, words.name)
    fields: Json = {
        "by": own_party(desk, review.ledger), "time": f"{desk.clock.now():%Y-%m-%dT%H:%M:%SZ}", "on": on,
        "mark": words.mark, "entries": received.dossier.size,
    }  # fmt: skip
    stated = {
        "mechanism": mechanism, "name_of": name, "text": words.text, "records": list(words.records),
        "exhibits": list(words.exhibits),
    }  # fmt: skip
    return record_one(desk, review.ledger, "review_mark", {**fields, **{k: v for k, v in stated.items() if v}})


def own_party(desk: Desk, ledger: str) -> str:
    """Number of the party that is the workspace's recorder, recorded first where he is not yet."""
    with desk.ledgers.reading() as view:
        for known, body in view.opening_and_parties(ledger):
            if known.kind == "party" and not known.withdrawn and body.get("full_name") == desk.recorder.full_name:
                return f"party {known.number}"
    with desk.ledgers.writing() as work:
        work.state(ledger)
        own = desk.ids.subject()
        pen = Pen(desk, work, ledger, recorded_by=own, via="review")
        kind, number = pen.record(recorder_party(desk), own)
        pen.put_down()
        work.commit()
    return label_of(kind, number)


def review_sheet(review: Review, received: Received) -> Sheet:
    """The review beside the dossier under review, with the answers that its newest bundle brought."""
    return sheet(received.dossier, received.assessment, review.dossier)


def own_version(desk: Desk, ledger: str) -> Version:
    """A dossier of the workspace as it stands."""
    with desk.ledgers.reading() as view:
        leaves = tuple(entry.leaf for entry in view.entries(ledger))
        return Version(dossier=read_dossier(view, ledger), leaves=leaves)


def compare_versions(
    before: Version, after: Version, packs: Sequence[Pack], vocabulary: Vocabulary
) -> tuple[Comparison, bool]:
    """Lay two versions side by side, both judged by the same rules. The flag: the later one continues the earlier."""
    judged = (assess(before.dossier, packs, vocabulary), assess(after.dossier, packs, vocabulary))
    continues = root_of(after.leaves[: len(before.leaves)]) == root_of(before.leaves)
    return compare(before.dossier, after.dossier, judged), continues


def writer_party(work: Writer, ledger: str, full_name: str) -> str | None:
    """Subject of the standing party of that name."""
    for known, body in work.opening_and_parties(ledger):
        if known.kind == "party" and not known.withdrawn and body.get("full_name") == full_name:
            return known.subject
    return None
