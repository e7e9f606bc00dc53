"""Commands of whoever looks at a dossier critically: its weak points, two versions side by side, a review and its answers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from evidence.cli.common import Place, desk, is_bundle, print_json, progress, shown, stop, workspace_folder
from evidence.cli.disclosing import tell_by_another_way
from evidence.errors import EvidenceError, ExitCode

if TYPE_CHECKING:
    from evidence.ports import Desk
    from evidence.rules.pack import Pack
    from evidence.rules.vocabulary import Vocabulary
    from evidence.usecases.review import Received, Review, Version

_DOSSIER = typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
_JSON = typer.Option("--json", help="Print as JSON.")
_KEY = typer.Option(
    "--key", metavar="FINGERPRINT", help="The sender's fingerprint, as you were told it by another way."
)
_HEAD = typer.Option("--head", metavar="NOTE", help="An earlier head of the dossier: a note, a checkpoint or its line.")
_REVIEW = typer.Option("--review", help="Which review, where the workspace holds several.")


class ReviewGroup(TyperGroup):
    """``evidence review BUNDLE --in DIR`` opens a review; every other first word is a command of the group."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put the command in front where a person named a bundle at once."""
        if args and args[0] not in self.commands and args[0] not in ("--help", "-h"):
            args = ["open", *args]
        return super().parse_args(ctx, args)


review_app = typer.Typer(
    cls=ReviewGroup, no_args_is_help=True, rich_markup_mode=None,
    help="Review a bundle that was received ('evidence review BUNDLE --in DIR'), send the review, answer one.",
)  # fmt: skip


def challenge(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of a dossier of the workspace, or a bundle.")
    ],
    brief: Annotated[bool, typer.Option("--brief", help="One line for each.")] = False,
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """Every weakness that an opponent would raise, the one that hurts most first, each with what would answer it."""
    from evidence.cli.review_tables import print_challenges
    from evidence.review.challenges import as_json as plain
    from evidence.usecases.challenge import challenge_dossier, challenge_held

    if is_bundle(dossier):
        from evidence.received_photos import signs_in_bundle
        from evidence.reviewing import received_bundle
        from evidence.usecases.photos import signs_by_exhibit

        with progress() as shower:
            received = received_bundle(Path(dossier), shower)
            signs = signs_by_exhibit(signs_in_bundle(Path(dossier), received.dossier, shower))
        title = received.dossier.title
        found = challenge_held(received.dossier, received.packs, received.vocabulary, received.withheld, signs=signs)
    else:
        with desk() as opened:
            title, found = challenge_dossier(opened, dossier)
    if as_json:
        print_json(plain(found, title))
    else:
        print_challenges(title, found, brief=brief)


@review_app.command("open")
def open_(
    bundle: Annotated[Path, typer.Argument(metavar="BUNDLE", help="The bundle as received.")],
    into: Annotated[
        Path | None, typer.Option("--in", metavar="DIR", help="Workspace of the review; made if it is not there.")
    ] = None,
    recorder: Annotated[str, typer.Option(help="Your name, where the workspace is new.")] = "",
    firm: Annotated[str, typer.Option(help="Your firm, where the workspace is new.")] = "",
    zone: Annotated[str, typer.Option(help="Your time zone (IANA name), where the workspace is new.")] = "",
    name: Annotated[str, typer.Option(help="Short name of the review; default: review- and that of the dossier.")] = "",
    key: Annotated[str, _KEY] = "",
    head: Annotated[str, _HEAD] = "",
) -> None:
    """Take a received bundle under review, or bring the review up to a later bundle of the same dossier."""
    from evidence.bootstrap import local_zone, make_workspace, open_desk
    from evidence.capture.sources import one_source
    from evidence.reviewing import received_bundle
    from evidence.usecases.review import open_review

    if into is None and not Place.named:
        raise EvidenceError(
            "in which workspace?", item=bundle.name, advice="Add --in DIR; it is made if it is not there."
        )
    folder = into or workspace_folder()
    new = not (folder / "settings.toml").exists()
    if new and not recorder:
        raise EvidenceError("who reviews?", item=str(folder), advice="Add --recorder 'Your Name' (and --firm).")
    if bundle.is_dir():
        raise EvidenceError(
            "is a folder; a review keeps the bundle as one file", item=str(bundle),
            advice="Ask the sender for the zip. 'evidence verify' and 'evidence challenge' take the folder as it is.",
        )  # fmt: skip
    with progress() as shower:
        received = received_bundle(bundle, shower, key=key, head=head)
    if new:  # nothing is made for a bundle that is not taken
        make_workspace(folder, recorder=recorder, firm=firm, zone=zone or local_zone())
    with open_desk(folder) as opened:
        done = open_review(opened, received, one_source(bundle), name)
    typer.echo(shown(f"{done.title}: {received.verified.partition(chr(10))[0]}"))
    if done.new:
        typer.echo(f"review {done.review}: begun on {done.entries} entries, in the workspace {folder}")
    elif done.before == done.entries:
        typer.echo(f"review {done.review}: stands on these {done.entries} entries already")
    else:
        typer.echo(f"review {done.review}: brought from {done.before} to {done.entries} entries")
    typer.echo(f"Go on with: evidence --workspace {folder} review show")


@review_app.command("mark")
def mark(
    on: Annotated[str, typer.Argument(metavar="ON", help="conclusion, finding, alternative, element or record")],
    name: Annotated[
        str, typer.Argument(metavar="NAME", help="Such as F2, A1, loss or 'exhibit 7'; none for a conclusion.")
    ] = "",
    accept: Annotated[bool, typer.Option("--accept", help="It stands as it is.")] = False,
    question: Annotated[str, typer.Option(help="What must be answered first.")] = "",
    reject: Annotated[str, typer.Option(help="Why it does not stand.")] = "",
    mechanism: Annotated[str, typer.Option(help="Of which mechanism; default: the first of the assessment.")] = "",
    record: Annotated[list[str] | None, typer.Option(help="A record of your own that bears it out.")] = None,
    exhibit: Annotated[list[str] | None, typer.Option(help="An exhibit of your own that shows it.")] = None,
    review: Annotated[str, _REVIEW] = "",
) -> None:
    """Mark one thing of the dossier under review: accepted, questioned or rejected."""
    from evidence.usecases.review import MarkWords
    from evidence.usecases.review import mark as put

    given = [w for w, there in (("accepted", accept), ("questioned", question), ("rejected", reject)) if there]
    if len(given) != 1:
        raise EvidenceError("say one of --accept, --question TEXT and --reject TEXT", item=f"{on} {name}".strip())
    if on not in ("conclusion", "finding", "alternative", "element", "record"):
        raise EvidenceError(
            "is nothing that can be marked",
            item=on,
            advice="Write conclusion, finding, alternative, element or record.",
        )
    words = MarkWords(
        on=on, name=name, mechanism=mechanism, mark=given[0], text=question or reject, records=tuple(record or ()),
        exhibits=tuple(exhibit or ()),
    )  # fmt: skip
    with desk() as opened:
        found, received = _under_review(opened, review)
        entered = put(opened, found, received, words)
    typer.echo(shown(f"{entered.label}: {entered.summary}"))


def _under_review(opened: Desk, name: str) -> tuple[Review, Received]:
    from evidence.reviewing import kept_bundle
    from evidence.usecases.review import find_review

    found = find_review(opened, name)
    return found, kept_bundle(Path(opened.originals.path(found.bundle)))


@review_app.command("show")
def show(
    dossier: Annotated[
        str,
        typer.Argument(metavar="[DOSSIER]", help="A dossier whose reviews were taken in; default: the review here."),
    ] = "",
    full: Annotated[bool, typer.Option("--all", help="Also what carries no mark.")] = False,
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """Each finding of each candidate with its mark, the questions that wait, the answers that came."""
    from evidence.cli.review_tables import print_sheet, sheet_json
    from evidence.usecases.review import review_sheet

    with desk() as opened:
        if dossier and (taken := _taken_in(opened, dossier)):
            sheets = [sheet for _ledger, _received, sheet in taken]
        else:
            found, received = _under_review(opened, dossier)
            sheets = [review_sheet(found, received)]
    if as_json:
        print_json([sheet_json(s) for s in sheets])
        return
    for sheet in sheets:
        print_sheet(sheet, full=full)


def _taken_in(opened: Desk, dossier: str, review: str = "") -> list[tuple[str, Received, Any]]:
    """The reviews that a dossier of the shop holds, each beside the dossier; none where it is itself a review."""
    from evidence.reviewing import kept_bundle
    from evidence.usecases.reply import reviews_in, shop_sheet

    ledger, held = reviews_in(opened, dossier)
    found = []
    for one in held:
        if one.ledger.startswith(review):
            received = kept_bundle(Path(opened.originals.path(one.sha256)))
            found.append((ledger, received, shop_sheet(opened, ledger, received)))
    return found


@review_app.command("send")
def send(
    out: Annotated[Path, typer.Option("-o", "--out", help="The bundle of the review to write, a zip file.")],
    review: Annotated[str, _REVIEW] = "",
) -> None:
    """Write the review as a bundle of its own, signed with your key; the bundle under review is not sent back with it."""
    from evidence.reviewing import write_review_bundle
    from evidence.usecases.review import find_review

    with desk() as opened, progress() as shower:
        found = find_review(opened, review)
        made = write_review_bundle(opened, workspace_folder(), found, out, shower)
    typer.echo(f"{out}: review {found.name}, {found.dossier.size} entries, {made.size:,} bytes")
    tell_by_another_way(made)


@review_app.command("accept")
def accept(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The review as it came.")],
    key: Annotated[str, _KEY] = "",
    head: Annotated[str, _HEAD] = "",
) -> None:
    """Take in a review of a dossier of this workspace: check it, keep it as exhibit and letter, list what it asks."""
    from evidence.capture.sources import one_source
    from evidence.cli.review_tables import print_waiting
    from evidence.reviewing import received_bundle
    from evidence.usecases.reply import accept_review

    with desk() as opened, progress() as shower:
        received = received_bundle(file, shower, key=key, head=head)
        done = accept_review(opened, received, one_source(file))
    typer.echo(shown(f"{done.title}: {received.verified.partition(chr(10))[0]}"))
    word = "taken in" if done.new else "was taken in before"
    typer.echo(f"{word} as {done.exhibit} with {done.correspondence}")
    print_waiting(done.sheet)


@review_app.command("answer")
def answer(
    dossier: Annotated[str, _DOSSIER],
    mark: Annotated[int, typer.Argument(metavar="MARK", help="Number of the mark that is answered.")],
    text: Annotated[str, typer.Argument(metavar="TEXT", help="The answer.")],
    record: Annotated[list[str] | None, typer.Option(help="A record of the dossier that bears it out.")] = None,
    exhibit: Annotated[list[str] | None, typer.Option(help="An exhibit of the dossier that shows it.")] = None,
    review: Annotated[str, typer.Option(help="Start of the review's id, where the dossier holds several.")] = "",
) -> None:
    """Answer a question or a rejection of a review; the answer goes to the reviewer with the next bundle."""
    from evidence.usecases.reply import answer as put

    with desk() as opened:
        held = _taken_in(opened, dossier, review)
        if len(held) != 1:
            raise EvidenceError(
                f"{len(held)} reviews of this dossier were taken in"
                if held
                else "no review of this dossier was taken in",
                item=dossier,
                advice="Say which with --review." if held else "'evidence review accept FILE' takes one in.",
            )
        ledger, received, _sheet = held[0]
        entered = put(opened, ledger, received, mark, text, records=record or (), exhibits=exhibit or ())
    typer.echo(shown(f"{entered.label}: {entered.summary}"))


@review_app.command("compare")
def compare(
    before: Annotated[str, typer.Argument(metavar="EARLIER", help="A bundle, or a dossier of the workspace.")],
    after: Annotated[str, typer.Argument(metavar="LATER", help="A later bundle, or the dossier of the workspace.")],
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """Lay two versions of one dossier side by side: what was added, amended, withdrawn, withheld, and what that did."""
    from evidence.bootstrap import rules_of
    from evidence.cli.review_tables import comparison_json, print_comparison
    from evidence.usecases.review import compare_versions

    (earlier, _), (later, rules) = _version(before), _version(after)
    vocabulary, packs = rules or rules_of(workspace_folder())
    found, continues = compare_versions(earlier, later, packs, vocabulary)
    if as_json:
        print_json({**comparison_json(found), "continues": continues})
    else:
        print_comparison(found, continues=continues)
    if not continues:
        stop(ExitCode.DAMAGED)


def _version(word: str) -> tuple[Version, tuple[Vocabulary, tuple[Pack, ...]] | None]:
    """A version, and the rules that came with it; a dossier of the workspace is judged by those of here."""
    from evidence.reviewing import received_bundle
    from evidence.usecases.pen import need
    from evidence.usecases.review import own_version

    if is_bundle(word):
        with progress() as shower:
            received = received_bundle(Path(word), shower)
        return received.version, (received.vocabulary, received.packs)
    if not (workspace_folder() / "settings.toml").exists():
        raise EvidenceError(
            "is no bundle that is there, and there is no workspace here that could hold a dossier of this name", item=word,
            advice="Name the file as it lies, or the workspace with --workspace.",
        )  # fmt: skip
    with desk() as opened:
        with opened.ledgers.reading() as view:
            ledger = need(view, word)
        return own_version(opened, ledger), None


@review_app.command("report")
def report(
    out: Annotated[Path, typer.Option("-o", "--out", help="The PDF to write.")],
    review: Annotated[str, _REVIEW] = "",
    since: Annotated[
        Path | None, typer.Option(help="An earlier bundle to compare with; default: the one before.")
    ] = None,
) -> None:
    """Make the PDF of a review: marks, questions, answers, what changed, and how the bundle was checked."""
    from evidence.cli.making import tell_report
    from evidence.reviewing import write_review_report
    from evidence.usecases.review import find_review

    with desk() as opened, progress() as shower:
        made = write_review_report(opened, workspace_folder(), find_review(opened, review), out, since, shower)
    tell_report(out, made)
