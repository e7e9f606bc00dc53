"""What is read out first at a hearing or by an adjuster: exhibit list, summary, chronology, brief."""

from __future__ import annotations

from decimal import Decimal

from evidence.claim.loss.statement import LossStatement
from evidence.claim.loss.sums import NATURES
from evidence.model.dossier import Recorded
from evidence.model.examination import CodeScan
from evidence.model.exhibit import Exhibit
from evidence.model.happening import Event
from evidence.model.people import Correspondence, CustodyTransfer, OwnerDeclaration
from evidence.model.repair import Intervention, WorkOrder
from evidence.model.when import When
from evidence.report.blocks import Block, Bullets, Column, Facts, Heading, Para, Row, Table
from evidence.report.papers.common import RULED, form, ruled, whom
from evidence.report.papers.explaining import (
    capital,
    claim,
    contradiction,
    finding,
    not_shown,
    points,
    weight,
    weight_shortly,
)
from evidence.report.papers.paper import Paper, PaperInput, as_pdf
from evidence.report.papers.records import caption, exhibits, numbered, told_record
from evidence.report.writing import Nowhere

_MOST = 5
_ROOMS = (2400, 1600, 1000, 600, 300, 0)  # characters for what is not shown, tried until a brief fits its page


def exhibit_list(p: PaperInput) -> Paper:
    """Every exhibit that stands, by its number; a withdrawn number stays listed as such."""
    t = p.words
    rows = [
        Row((e.label.rpartition(" ")[2], what(p, e), t("withdrawn") if e.withdrawn else sort(p, e), _hash(e)))
        for e in p.dossier.all_of(Exhibit)
    ]
    columns = (
        Column(t("Exhibit"), 0.8),
        Column(t("What it shows, when, by whom"), 4),
        Column(t("Form"), 1.5),
        Column("SHA-256", 5.2, mono=True),
    )
    return form(
        p,
        "exhibits",
        t("List of exhibits"),
        (Table(columns, tuple(rows)) if rows else Para(t("No exhibit is on record.")),),
    )


def what(p: PaperInput, e: Recorded[Exhibit]) -> str:
    """Caption, then when and by whom."""
    v = e.value
    taken = p.words.moment(v.taken, p.zone) if v.taken else ""
    return "\n".join(
        filter(
            None, (caption(p, v), "; ".join(filter(None, (taken, p.dossier.party(v.taken_by) if v.taken_by else ""))))
        )
    )


def sort(p: PaperInput, e: Recorded[Exhibit]) -> str:
    """Picture, paper, thing ... in words."""
    t = p.words
    if e.value.form == "physical":
        return t("thing: {where}").format(where=t.own(e.value.location or "") or ruled(t("where it is kept")))
    words = {
        "photo": t("picture"),
        "video": t("film"),
        "document": t("paper"),
        "waveform": t("waveform"),
        "scan_text": t("read-out"),
    }
    return words.get(e.value.read.media, t("file")) if e.value.read else t("file")


def _hash(e: Recorded[Exhibit]) -> str:
    return e.value.file.sha256 if e.value.file else "–"


def summary(p: PaperInput) -> tuple[Block, ...]:
    """At most two pages: who, what happened, what is shown and what is not, what is asked."""
    t = p.words
    return (
        Facts(
            (
                (t("Claimant"), whom(p, p.party("owner"), t("name of the owner"))),
                (t("Respondent"), whom(p, p.party("prior_repairer"), t("legal name of the earlier repairer"))),
                (t("Complaint, in the owner's words"), ruled(t("complaint"), t.own(p.dossier.opening.complaint or ""))),
            )
        ),
        Heading(t("The earlier work")),
        *_work(p),
        Heading(t("What is shown")),
        *_shown(p),
        Heading(t("What is not shown, and what speaks against it")),
        *_open(p),
        Heading(t("Sum")),
        *_sum(p),
        Heading(t("Witnesses")),
        Bullets(
            (
                whom(p, p.party("technician") or p.party("present_repairer"), t("name of the technician")),
                f"{RULED * 3} ({t('further witnesses')})",
            )
        ),
    )


def _work(p: PaperInput) -> list[Block]:
    t = p.words
    told = []
    for o in p.dossier.of(WorkOrder):
        if o.value.side != "present_repairer":
            day = o.value.closed or o.value.opened
            lines = "; ".join(t.own(x.text) for x in o.value.operations[:4])
            told.append(
                f"{numbered(p, [o.label])}, {p.dossier.party(o.value.repairer)}, "
                f"{t.moment(day, p.zone) if day else ruled(t('date'))}: {lines}"
            )
    return [Bullets(tuple(told) or (ruled(t("work order of the earlier repairer")),))]


def _shown(p: PaperInput) -> list[Block]:
    t = p.words
    best = p.leading
    if best is None:
        return [Para(not_shown(p))]
    carrying = [f for f in best.findings if f.answer == "met" and f.limb in ("D", "L", "E")]
    met = [f"{finding(p, best, f)} [{numbered(p, f.records) or '–'}]" for f in carrying[:_MOST]]
    if len(carrying) > _MOST:
        met.append(t("%(count)s more stand in the report of the dossier.", count=len(carrying) - _MOST))
    return [Para(weight(p, best)), Bullets(tuple(met) or (t("nothing yet"),))]


def _open(p: PaperInput) -> list[Block]:
    t = p.words
    first = p.argued
    if first is None:
        return [Para(t("No explanation was called up by the earlier work or the complaint."))]
    told = [t("Looked for and not there: {what}").format(what=text) for text in points(p, first, ["not met"])]
    gaps = points(p, first, ("undecided", "not measured"))
    told += [t("Not measured or undecided: {what}").format(what=text) for text in gaps[:_MOST]]
    rivals = [a for a in first.alternatives if not a.resolved and a.status in ("open", "supported")]
    rivals.sort(key=lambda a: a.status != "supported")
    told += [t("Other cause not ruled out: {what}").format(what=claim(p, first, a)) for a in rivals[:_MOST]]
    told += [
        t("To be resolved: {what}").format(what=contradiction(p, first, c))
        for c in first.contradictions
        if not c.resolved
    ]
    return [
        Bullets(
            tuple(told[: 2 * _MOST])
            or (t("Nothing recorded. That is not the same as everything having been looked for."),)
        )
    ]


def _sum(p: PaperInput) -> list[Block]:
    t = p.words
    s = p.loss
    if s is None:
        return [Para(ruled(t("sum claimed, split by rework and resulting damage")))]
    readings = (s.low, s.claimed, s.high)
    backed = s.documented_by_nature
    rows = [
        Row((_nature(p, n), *(t.money(x.left_by_nature.get(n, Decimal(0)), s.currency) for x in readings), t.money(backed.get(n, Decimal(0)), s.currency)))
        for n in NATURES if any(x.left_by_nature.get(n) for x in readings) or backed.get(n)
    ]  # fmt: skip
    whole = (*(t.money(x.total, s.currency) for x in readings), t.money(s.documented, s.currency))
    columns = (
        Column(t("Part of the sum, with its tax"), 2.2), Column(t("Lowest"), 1.95, "right"), Column(t("Claimed"), 1.95, "right"),
        Column(t("Highest"), 1.95, "right"), Column(t("Papers for"), 1.95, "right"),
    )  # fmt: skip
    told: list[Block] = [Table(columns, (*rows, Row((t("Sum, after what is taken off"), *whole), strong=True)))]
    if off := s.claimed.gross - s.claimed.total:
        told.append(Para(t("Taken off: %(sum)s. Not backed by a paper: %(bare)s.",
            sum=t.money(off, s.currency), bare=t.money(s.undocumented, s.currency))))  # fmt: skip
    ceiling = p.place.small_claims_ceiling if p.place else None
    if s.over_ceiling and ceiling and p.place:
        words = t(
            "A small-claims court of %(place)s hears at most %(most)s (%(source)s, looked up on %(day)s). The sum is above that by %(sum)s.",
            place=t.own(p.place.name), most=t.money(ceiling.amount.number, s.currency), source=t.own(ceiling.source),
            day=t.day(ceiling.on), sum=t.money(s.claimed.total - ceiling.amount.number, s.currency),
        )  # fmt: skip
        told.append(Para(words, head=t("Above the ceiling.")))
    return told


def _nature(p: PaperInput, nature: str) -> str:
    t = p.words
    return {
        "rework": t("Rework of the earlier job"),
        "resulting_damage": t("Resulting damage"),
        "diagnosis": t("Diagnosis"),
        "incidental": t("Incidental"),
        "deduction": t("Taken off"),
        "value": t("Value"),
    }[nature]


def chronology(p: PaperInput) -> tuple[Block, ...]:
    """What happened, in order of the earliest moment that each record can mean."""
    t = p.words
    found: list[tuple[When, str, str, str]] = []
    for r in p.dossier.by_subject.values():
        v = r.value
        if r.withdrawn:
            continue
        moment = (
            (v.closed or v.opened)
            if isinstance(v, WorkOrder)
            else v.sent
            if isinstance(v, Correspondence)
            else (v.time if isinstance(v, (Event, Intervention, CustodyTransfer, OwnerDeclaration, CodeScan)) else None)
        )
        if moment:
            found.append((moment, r.label, told_record(p, r), exhibits(p, getattr(v, "exhibits", ()))))
    found.sort(key=lambda x: (x[0].span.earliest, x[0].span.latest, x[1]))
    rows = tuple(
        Row((t.moment(w, p.zone), f"{capital(text)} [{numbered(p, [label])}]", carried))
        for w, label, text, carried in found
    )
    if not rows:
        return (Para(t("No event with a time is on record.")),)
    return (Table((Column(t("When"), 2), Column(t("What"), 5.4), Column(t("Exhibits"), 1.8)), rows),)


def brief(p: PaperInput) -> Paper:
    """For an adjuster: one page, what to read in ten minutes, what is shown and what not, the sum split.

    As many points of what is not shown stand in it as the page has room for, each whole.
    """
    made = _brief(p, _ROOMS[0])
    for room in _ROOMS[1:]:
        if as_pdf(p, made, Nowhere()) == 1:
            break
        made = _brief(p, room)
    return made


def _brief(p: PaperInput, room: int) -> Paper:
    t = p.words
    best = p.leading
    met = sum(f.answer == "met" for f in best.findings) if best else 0
    told = weight_shortly(p, best) if best else not_shown(p)
    prior = next((o for o in p.dossier.of(WorkOrder) if o.value.side == "prior_repairer"), None)
    notice = next((c for c in p.dossier.of(Correspondence) if c.value.about == "notice"), None)
    content: list[Block] = [
        Heading(t("Ten minutes, in this order")),
        Bullets(
            (
                t("1 min: this page"),
                t("2 min: the earlier work order: {what}").format(
                    what=numbered(p, [prior.label]) if prior else ruled(t("not on record"))
                ),
                t("3 min: pictures of the undisturbed state: {what}").format(
                    what=_undisturbed(p) or ruled(t("none on record"))
                ),
                t("2 min: findings and other causes: the report's pages of that name"),
                t("2 min: loss, and custody of the parts: the report's pages of that name"),
            )
        ),
        Heading(t("What is shown")),
        Para(
            told + (" " + t("{met} of {all} findings are met.").format(met=met, all=len(best.findings)) if best else "")
        ),
        Heading(t("What is not")),
        *_shortly(p, room),
        Heading(t("Sum")),
        *_sum(p),
        *_unlinked(p, p.loss),
        Para(
            t("First notice to the earlier repairer: {what}").format(
                what=f"{numbered(p, [notice.label])}, {t.moment(notice.value.sent, p.zone)}"
                if notice
                else ruled(t("not on record"))
            )
        ),
    ]
    return form(p, "brief", t("Brief for an adjuster"), content)


def _undisturbed(p: PaperInput) -> str:
    return numbered(p, [e.label for e in p.dossier.of(Exhibit) if e.value.state == "undisturbed"])


def _shortly(p: PaperInput, room: int) -> list[Block]:
    """As many points as have room, each whole, one at least, and how many more there are."""
    whole = _open(p)[0]
    if not isinstance(whole, Bullets):
        return [whole]
    kept, room = [whole.items[0]], room - len(whole.items[0])
    for text in whole.items[1:]:
        room -= len(text)
        if room >= 0:
            kept.append(text)
    more = len(whole.items) - len(kept)
    if more:
        kept.append(p.words("%(count)s more stand in the report of the dossier.", count=more))
    return [Bullets(tuple(kept))]


def _unlinked(p: PaperInput, s: LossStatement | None) -> list[Block]:
    t = p.words
    if s is None or not s.unlinked:
        return []
    return [Para(numbered(p, (x.label for x in s.unlinked)), head=t("Lines with no link to a finding, shown apart:"))]
