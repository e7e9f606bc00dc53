"""The exhibits: list, plates, and the manifest of hashes."""

from __future__ import annotations

from evidence.model.base import say, shorten
from evidence.model.copies import told_briefly
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit, FileFacts
from evidence.model.kinds import enumerated
from evidence.report.blocks import Block, Column, Heading, Para, Plate, Row, Section, Table
from evidence.report.figures import thousands
from evidence.report.given import ReportInput
from evidence.report.phrasing import NOT_STATED, first_up, joined
from evidence.report.words import STATES, clock, parts, title, when
from evidence.timeline.clock_telling import spread
from evidence.timeline.clocks import Clocks

_PICTURES = ("photo", "video")
_NO_TIME, _NO_CAPTURE, _NO_STATE = "time not stated", "no capture time in the file", "state not stated"
_UNSAID = (_NO_TIME, _NO_CAPTURE, _NO_STATE, NOT_STATED)
_WITHHELD = "This file is withheld from this disclosure; its hash stands here."
LONG_SIDE = 1600  # pixels; a larger picture is printed from its preview


def listing(given: ReportInput) -> Section:
    """Every exhibit with what the recorder says; withdrawn ones keep their number."""
    dossier, plated, clocks = given.dossier, plated_labels(given), Clocks.of(given.dossier)
    rows = []
    for e in given.dossier.all_of(Exhibit):
        v = e.value
        kind = "Physical" if v.form == "physical" else first_up(v.read.media) if v.read else "File"
        plated_here = e.label in plated  # the plate then says the rest
        file = None if plated_here or not v.file else joined([v.file.name, v.read and v.read.type, *_notes(v)])
        what = joined([v.caption, v.description, v.serial and f"serial {v.serial}", file], "\n") or NOT_STATED
        kept = joined([v.container and f"container {v.container}", v.seal and f"seal {v.seal}", v.location,
                       {True: "retained", False: "not retained", None: None}[v.retained]])  # fmt: skip
        made = joined(
            [
                f"derived from {given.dossier.label(v.derived_from)}" if v.derived_from else None,
                told_briefly(v.operations),
            ]
        )
        rows.append(
            Row(
                (title(e), kind, what, joined([parts(v.shows), v.position and say(v.position)], " "),
                 STATES[v.state] if v.state else NOT_STATED,
                 joined([_time(dossier, v, short=plated_here), _put_right(clocks, e), kept, made], "\n")),
                key="" if plated_here else e.label,
                faded=e.withdrawn,
            )
        )  # fmt: skip
    columns = (Column("No.", 1.2), Column("Kind", 0.9), Column("What it is", 3.3), Column("Shows", 1.9), Column("State", 1.3),
               Column("Time; where it is kept; made from", 2.1))  # fmt: skip
    blocks: tuple[Block, ...] = (
        (Table(columns, tuple(rows)),) if rows else (Para("No exhibit recorded.", tone="muted"),)
    )
    return Section("List of exhibits", blocks)


def _time(dossier: Dossier, exhibit: Exhibit, *, short: bool) -> str:
    """When it was taken; where a plate tells the rest, the time alone."""
    moment = exhibit.taken or (exhibit.read.captured if exhibit.read else None)
    return clock(dossier, moment) if moment and short else when(dossier, moment)


def _put_right(clocks: Clocks, exhibit: Recorded[Exhibit]) -> str | None:
    """The time after the device's clock was put right, and by what."""
    correction = clocks.corrections.get(exhibit.subject)
    return f"put right: {spread(correction.after)} ({enumerated(correction.references)})" if correction else None


def plated_labels(given: ReportInput) -> frozenset[str]:
    """Exhibits that have a plate: pictures, and documents of which a page can be shown."""
    return frozenset(e.label for e in given.dossier.all_of(Exhibit) if _has_plate(given, e))


def _has_plate(given: ReportInput, exhibit: Recorded[Exhibit]) -> bool:
    v = exhibit.value
    if v.file is None:
        return False
    media = v.read.media if v.read else ""
    return media in _PICTURES or given.preview(v.file.sha256) is not None


def plates(given: ReportInput) -> Section:
    """Pictures two a page, documents four a page."""
    clocks = Clocks.of(given.dossier)
    found = [_plate(given, e, clocks) for e in given.dossier.all_of(Exhibit) if _has_plate(given, e)]
    pictures = [p for p in found if not p.small]
    papers = [p for p in found if p.small]
    head = [Heading("Documents, first page of each")] if papers else []
    return Section("Plates", (*pictures, *head, *papers), new_page=True)


def _plate(given: ReportInput, exhibit: Recorded[Exhibit], clocks: Clocks) -> Plate:
    v = exhibit.value
    assert v.file is not None
    read = v.read
    taken = when(given.dossier, v.taken) if v.taken else _NO_TIME
    by = f"by {given.dossier.party(v.taken_by)}" if v.taken_by else None
    lines = [
        ("Taken, as recorded", joined([taken, by], ", ")),
        ("Time, as in the file", joined([_file_time(given, exhibit), _put_right(clocks, exhibit)])),
        ("State, view", joined([STATES[v.state] if v.state else _NO_STATE, v.view and f"{v.view} view"])),
        ("File", shorten(joined([f"{v.file.name} ({thousands(v.file.size)} bytes)", read and read.type]), 240)),
        ("Device", joined([f"recorder: {v.device}" if v.device else None,
                           f"file: {read.device}" if read and read.device else None]) or NOT_STATED),
    ]  # fmt: skip
    shows = joined([parts(v.shows), v.position and say(v.position)], " ")
    if shows:
        lines.insert(2, ("Shows", shorten(shows, 200)))
    if v.place or (read and read.place):
        file_place = f"file: {read.place.latitude}, {read.place.longitude}" if read and read.place else None
        lines.append(("Place", joined([f"recorder: {v.place}" if v.place else None, file_place])))
    if v.derived_from:
        lines.insert(0, ("Derived copy", shorten(_derivation(given, v), 400)))
    if noted := _notes(v):
        lines.append(("Noted when read", shorten("; ".join(noted), 240)))
    small = read is not None and read.media not in _PICTURES
    if (
        small or v.derived_from
    ):  # a paper or a copy has no camera and no state; what is not stated of it is told in the list
        lines = [(name, text) for name, text in lines if text not in _UNSAID]
    derived = f"derived from {given.dossier.label(v.derived_from)}" if v.derived_from else None
    derived = joined([derived, told_briefly(v.operations)], ": ") if derived else None
    status = title(exhibit).partition("\n")[2]
    withheld = v.file.sha256 in given.withheld_files
    if status:
        lines.append(("Note", shorten(status, 300)))
    return Plate(
        key=exhibit.label,
        title=joined([exhibit.label, shorten(v.caption or ("" if derived else "no caption"), 260), derived], ": "),
        original=given.original(v.file.sha256) if _small_jpeg(read) and not withheld else None,
        preview=given.preview(v.file.sha256),
        reason=_WITHHELD if withheld else "No picture can be printed of this file; the file itself is kept and hashed.",
        lines=tuple(lines),
        digest=v.file.sha256,
        faded=exhibit.withdrawn,
        small=small,
        alt=_alt(exhibit),
    )


def _alt(exhibit: Recorded[Exhibit]) -> str:
    """What the picture shows, as the recorder says: nobody else has looked."""
    v = exhibit.value
    what = {"photo": "Photo", "video": "Still from a film"}.get(
        v.read.media if v.read else "", "First page of a document"
    )
    shows = joined([parts(v.shows), v.position and say(v.position)], " ")
    said = [v.caption or "no caption", shows and f"shows {shows}", v.view and f"{v.view} view"]
    state = STATES[v.state] if v.state else _NO_STATE
    return f"{what}, {exhibit.label}: {joined([*said, state if what == 'Photo' else None])}"


def _derivation(given: ReportInput, copy: Exhibit) -> str:
    """What was done to which exhibit; whatever is blacked out here stands untouched in that one."""
    done = "; ".join(o.said() for o in copy.operations) or "what was done is not stated"
    made = f"drawn from it by {copy.made.program}" if copy.made else None
    return joined([f"derived from {given.dossier.label(copy.derived_from or '')}: {done}", made])


def _notes(exhibit: Exhibit) -> tuple[str, ...]:
    return exhibit.read.notes if exhibit.read else ()


def _small_jpeg(read: FileFacts | None) -> bool:
    """Whether the file can be printed as it is: it is small, upright, and a JPEG."""
    return (
        read is not None
        and read.type == "image/jpeg"
        and 0 < max(read.width or 0, read.height or 0) <= LONG_SIDE
        and read.orientation in (None, 1)
        and read.preview != "none"
    )


def _file_time(given: ReportInput, exhibit: Recorded[Exhibit]) -> str:
    read = exhibit.value.read
    if read is None:
        return "not read"
    dossier = given.dossier
    times = [
        f"camera's clock {clock(dossier, read.captured)}" if read.captured else _NO_CAPTURE,
        f"satellite time {clock(dossier, read.gps_time)}" if read.gps_time else None,
        f"changed {clock(dossier, read.changed)}" if read.changed else None,
    ]
    return joined(times)


def manifest(given: ReportInput) -> Section:
    """Every exhibit's full digest, size and name."""
    rows = [
        Row(
            (e.label, e.value.file.sha256, thousands(e.value.file.size), _name(e.value)),
            faded=e.withdrawn,
        )
        for e in given.dossier.all_of(Exhibit)
        if e.value.file is not None
    ]
    if not rows:
        return Section("Manifest of hashes", (Para("No file is recorded, so there is no hash to list.", tone="muted"),))
    columns = (
        Column("Exhibit", 1.2),
        Column("SHA-256", 5.2, mono=True),
        Column("Bytes", 1.25, "right"),
        Column("Name as given", 2.4),
    )
    intro = "Each hash is the SHA-256 (FIPS 180-4) of the file exactly as it was taken in. One changed bit gives another hash."
    unheld = [e.label for e in given.dossier.all_of(Exhibit) if e.value.file is None]
    tail = (Para(f"Without a file: {enumerated(unheld)}.", tone="small"),) if unheld else ()
    return Section(
        "Manifest of hashes", (Para(intro, tone="small"), Table(columns, tuple(rows)), *tail), new_page=len(rows) > 12
    )


def _name(exhibit: Exhibit) -> str:
    assert exhibit.file is not None
    return exhibit.file.name + (f" (bytes {exhibit.file.name_hex})" if exhibit.file.name_hex else "")
