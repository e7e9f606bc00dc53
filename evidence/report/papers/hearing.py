"""What is read out first at a hearing or by an adjuster: exhibit list, summary, chronology, brief."""

from __future__ import annotations

from evidence.claim.loss.statement import LossStatement
from evidence.model.dossier import Recorded
from evidence.model.examination import CodeScan
from evidence.model.exhibit import Exhibit
from evidence.model.happening import Event
from evidence.model.people import Correspondence, CustodyTransfer, OwnerDeclaration
from evidence.model.repair import Intervention, WorkOrder
from evidence.model.when import When
from evidence.report.blocks import Block, Bullets, Column, Facts, Heading, Para, Row, Table
from evidence.report.papers.paper import RULED, Paper, PaperInput, blank, finished, tongue, whom
from evidence.report.words import clock, labels

_MOST = 5


def exhibit_list(p: PaperInput) -> Paper:
    """Every exhibit that stands, by its number; a withdrawn number stays listed as such."""
    _ = tongue(p.language)
    rows = [
        Row((e.label.rpartition(" ")[2], what(p, e), _("withdrawn") if e.withdrawn else form(p, e), _hash(e)))
        for e in p.dossier.all_of(Exhibit)
    ]
    columns = (
        Column(_("Exhibit"), 0.8),
        Column(_("What it shows, when, by whom"), 4),
        Column(_("Form"), 1.5),
        Column("SHA-256", 3.2, mono=True),
    )
    return finished(
        p,
        "exhibits",
        _("List of exhibits"),
        (Table(columns, tuple(rows)) if rows else Para(_("No exhibit is on record.")),),
    )


def what(p: PaperInput, e: Recorded[Exhibit]) -> str:
    """Caption, then when and by whom."""
    v = e.value
    taken = clock(p.dossier, v.taken) if v.taken else ""
    return "\n".join(
        filter(None, (v.summary(), "; ".join(filter(None, (taken, p.dossier.party(v.taken_by) if v.taken_by else "")))))
    )


def form(p: PaperInput, e: Recorded[Exhibit]) -> str:
    """Picture, paper, thing ... in words."""
    _ = tongue(p.language)
    if e.value.form == "physical":
        return _("thing: {where}").format(where=e.value.location or blank(_("where it is kept")))
    words = {
        "photo": _("picture"),
        "video": _("film"),
        "document": _("paper"),
        "waveform": _("waveform"),
        "scan_text": _("read-out"),
    }
    return words.get(e.value.read.media, _("file")) if e.value.read else _("file")


def _hash(e: Recorded[Exhibit]) -> str:
    return e.value.file.sha256 if e.value.file else ""


def summary(p: PaperInput) -> tuple[Block, ...]:
    """At most two pages: who, what happened, what is shown and what is not, what is asked."""
    _ = tongue(p.language)
    return (
        Facts(
            (
                (_("Claimant"), whom(p, p.party("owner"), _("name of the owner"))),
                (_("Respondent"), whom(p, p.party("prior_repairer"), _("legal name of the earlier repairer"))),
                (_("Complaint, in the owner's words"), blank(_("complaint"), p.dossier.opening.complaint)),
            )
        ),
        Heading(_("The earlier work")),
        *_work(p),
        Heading(_("What is shown")),
        *_shown(p),
        Heading(_("What is not shown, and what speaks against it")),
        *_open(p),
        Heading(_("Sum")),
        *_sum(p),
        Heading(_("Witnesses")),
        Bullets(
            (
                whom(p, p.party("technician", "present_repairer"), _("name of the technician")),
                f"{RULED * 3} ({_('further witnesses')})",
            )
        ),
    )


def _work(p: PaperInput) -> list[Block]:
    _ = tongue(p.language)
    told = [
        f"{o.label}, {p.dossier.party(o.value.repairer)}, {(o.value.closed or o.value.opened).given if (o.value.closed or o.value.opened) else blank(_('date'))}: "  # type: ignore[union-attr]
        + "; ".join(x.text for x in o.value.operations[:4])
        for o in p.dossier.of(WorkOrder)
        if o.value.side != "present_repairer"
    ]
    return [Bullets(tuple(told) or (blank(_("work order of the earlier repairer")),))]


def _shown(p: PaperInput) -> list[Block]:
    _ = tongue(p.language)
    best = p.leading
    if best is None:
        return [
            Para(
                _(
                    "Not proven: the record supports none of the explanations that the rules know. That is a full answer."
                )
            )
        ]
    met = [f"{f.statement} ({', '.join(f.records) or '-'})" for f in best.findings if f.answer == "met"]
    return [Para(best.weight.statement), Bullets(tuple(met[:_MOST]) or (_("nothing yet"),))]


def _open(p: PaperInput) -> list[Block]:
    _ = tongue(p.language)
    first = next(iter(p.assessment.candidates), None)
    if first is None:
        return [Para(_("No explanation was called up by the earlier work or the complaint."))]
    told = [
        _("Looked for and not there: {what}").format(what=f.statement) for f in first.findings if f.answer == "not met"
    ]
    told += [
        _("Not measured or undecided: {what}").format(what=f.statement)
        for f in first.findings
        if f.answer in ("undecided", "not measured")
    ][:_MOST]
    rivals = [a for a in first.alternatives if not a.resolved and a.status in ("open", "supported")]
    told += [_("Other cause not ruled out: {what}").format(what=a.claim) for a in rivals][:_MOST]
    told += [_("To be resolved: {what}").format(what=c.text) for c in first.contradictions if not c.resolved]
    return [
        Bullets(
            tuple(told[: 2 * _MOST])
            or (_("Nothing recorded. That is not the same as everything having been looked for."),)
        )
    ]


def _sum(p: PaperInput) -> list[Block]:
    _ = tongue(p.language)
    s = p.loss
    if s is None:
        return [Para(blank(_("sum claimed, split by rework and resulting damage")))]
    told: list[Block] = [
        Table(
            (Column(_("Part of the sum"), 4), Column(_("With its tax"), 2, "right")),
            (
                *(Row((_nature(p, n), p.money(a, s.currency))) for n, a in s.by_nature.items() if a),
                Row((_("Claimed, after what is taken off"), p.money(s.claimed.total, s.currency)), strong=True),
                Row(
                    (
                        _("Lowest and highest reading"),
                        f"{p.money(s.low.total, s.currency)} - {p.money(s.high.total, s.currency)}",
                    )
                ),
                Row(
                    (
                        _("Backed by a paper; not backed"),
                        f"{p.money(s.documented, s.currency)}; {p.money(s.undocumented, s.currency)}",
                    )
                ),
            ),
        )
    ]
    if s.over_ceiling:
        told.append(Para(s.over_ceiling, head=_("Above the ceiling.")))
    return told


def _nature(p: PaperInput, nature: str) -> str:
    _ = tongue(p.language)
    return {
        "rework": _("Rework of the earlier job"),
        "resulting_damage": _("Resulting damage"),
        "diagnosis": _("Diagnosis"),
        "incidental": _("Incidental"),
        "deduction": _("Taken off"),
        "value": _("Value"),
    }[nature]


def chronology(p: PaperInput) -> tuple[Block, ...]:
    """What happened, in order of the earliest moment that each record can mean."""
    _ = tongue(p.language)
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
            found.append((moment, r.label, v.summary(), labels(p.dossier, getattr(v, "exhibits", ()))))
    found.sort(key=lambda x: (x[0].span.earliest, x[0].span.latest, x[1]))
    rows = tuple(Row((clock(p.dossier, w), f"{text} ({label})", carried or "-")) for w, label, text, carried in found)
    if not rows:
        return (Para(_("No event with a time is on record.")),)
    return (Table((Column(_("When"), 2), Column(_("What"), 5.4), Column(_("Exhibits"), 1.8)), rows),)


def brief(p: PaperInput) -> Paper:
    """For an adjuster: one page, what to read in ten minutes, what is shown and what not, the sum split."""
    _ = tongue(p.language)
    best = p.leading
    met = sum(f.answer == "met" for f in best.findings) if best else 0
    told = (
        best.weight.statement
        if best
        else _("Not proven: the record supports none of the explanations that the rules know. That is a full answer.")
    )
    prior = next((o for o in p.dossier.of(WorkOrder) if o.value.side == "prior_repairer"), None)
    notice = next((c for c in p.dossier.of(Correspondence) if c.value.about == "notice"), None)
    content: list[Block] = [
        Heading(_("Ten minutes, in this order")),
        Bullets(
            (
                _("1 min: this page"),
                _("2 min: the earlier work order: {what}").format(
                    what=prior.label if prior else blank(_("not on record"))
                ),
                _("3 min: pictures of the undisturbed state: {what}").format(
                    what=_undisturbed(p) or blank(_("none on record"))
                ),
                _("2 min: findings and other causes: the report's pages of that name"),
                _("2 min: loss, and custody of the parts: the report's pages of that name"),
            )
        ),
        Heading(_("What is shown")),
        Para(told),
        *([Para(_("{met} of {all} findings are met.").format(met=met, all=len(best.findings)))] if best else []),
        Heading(_("What is not")),
        *_shortly(p),
        Heading(_("Sum")),
        *_sum(p),
        *_unlinked(p, p.loss),
        Para(
            _("First notice to the earlier repairer: {what}").format(
                what=f"{notice.label}, {notice.value.sent.given}" if notice else blank(_("not on record"))
            )
        ),
    ]
    return finished(p, "brief", _("Brief for an adjuster"), content)


def _undisturbed(p: PaperInput) -> str:
    return labels(p.dossier, [e.subject for e in p.dossier.of(Exhibit) if e.value.state == "undisturbed"][:6])


def _shortly(p: PaperInput) -> list[Block]:
    """Three points at most: the brief is one page."""
    whole = _open(p)[0]
    return (
        [Bullets(tuple(t if len(t) <= 190 else t[:188].rsplit(" ", 1)[0] + " …" for t in whole.items[:3]))]
        if isinstance(whole, Bullets)
        else [whole]
    )


def _unlinked(p: PaperInput, s: LossStatement | None) -> list[Block]:
    _ = tongue(p.language)
    if s is None or not s.unlinked:
        return []
    return [Para(", ".join(x.label for x in s.unlinked), head=_("Lines with no link to a finding, shown apart:"))]
