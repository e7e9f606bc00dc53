"""The statement of a technician who will be heard: facts seen, method, opinion apart, limits.

The worked form follows US Federal Rules of Evidence 602 (personal knowledge) and 702 as amended on 1 December 2023 (the four
points that the side calling an expert must show). Other places: local practice.
"""

from __future__ import annotations

from evidence.model.base import say
from evidence.model.dossier import Recorded
from evidence.model.examination import CodeScan, Measurement, Observation, Taken
from evidence.model.instrument import Instrument
from evidence.model.people import Opinion, Party
from evidence.report.blocks import Block, Bullets, Column, Facts, Heading, Para, Row, Signature, Table
from evidence.report.papers.paper import RULED, Paper, PaperInput, blank, finished, tongue
from evidence.report.words import clock, labels

_MOST_FACTS = 40


def statement(p: PaperInput) -> Paper:
    """The statement; an opinion is printed only where one is recorded, and apart from what was seen."""
    _ = tongue(p.language)
    who = _technician(p)
    subject, party = (who.subject, who.value) if who else ("", None)
    content: list[Block] = [
        Facts(
            (
                (_("Name"), blank(_("name of the technician"), party and party.full_name)),
                (
                    _("Firm and address"),
                    blank(_("firm and address"), party and ", ".join(filter(None, (party.firm, party.address)))),
                ),
                (
                    _("Qualification"),
                    blank(_("training, licences, years of experience"), party and party.qualification),
                ),
                (
                    _("Interest in the result"),
                    blank(_("what the technician gains or loses by it"), party and party.interest),
                ),
            )
        ),
        Heading(_("1. Personal knowledge (Rule 602)")),
        Para(
            _(
                "I state in part 2 only what I saw, read or measured myself. What others told me or did stands in part 3 with its source."
            )
        ),
        Heading(_("2. Facts that I saw or measured")),
        *_facts(p, subject, own=True),
        Heading(_("3. Facts that I rely on and did not see")),
        *_facts(p, subject, own=False),
        Heading(_("4. Method and instruments")),
        *_instruments(p, subject),
        Para(
            _(
                "Values were held against their limits with the limits of error of the instrument. A value whose range straddles "
                "the limit was called undecided."
            )
        ),
        Heading(_("5. Opinion, apart from the facts (Rule 702)")),
        *_opinion(p, subject),
        Heading(_("6. Limits")),
        *_limits(p),
        Para(
            _(
                "I have read this statement and can be asked about it. I correct here what is wrong or not mine: {blank}"
            ).format(blank=RULED * 3)
        ),
        Para(
            _(
                "In the United States an unsworn statement may close with the words of 28 U.S.C. 1746, if the signer chooses so: “I declare "
                "under penalty of perjury that the foregoing is true and correct. Executed on (date).” Elsewhere use the form of the "
                "place. Rules 602 and 702 are a worked form of the US federal courts; other courts have their own."
            ),
            tone="small",
        ),
        Signature((_("Name in block letters"), _("Place and date"), _("Signature"))),
    ]
    return finished(p, "technician", _("Statement of the technician"), content)


def _technician(p: PaperInput) -> Recorded[Party] | None:
    """The party in the role; of several the one who took most of the readings."""
    taken = [r.value.by for kind in (Measurement, Observation, CodeScan) for r in p.dossier.of(kind)]
    found = [r for r in p.dossier.of(Party) if "technician" in r.value.roles]
    return max(found, key=lambda r: taken.count(r.subject), default=None)


def _facts(p: PaperInput, subject: str, *, own: bool) -> list[Block]:
    _ = tongue(p.language)
    found: list[Recorded[Taken]] = [
        r
        for kind in (Observation, Measurement, CodeScan)
        for r in p.dossier.of(kind)
        if (r.value.by == subject and bool(subject)) == own
    ]
    if not found:
        return [Para(_("None on record."))]
    found.sort(
        key=lambda r: (
            (r.value.time is None, r.value.time.span.earliest if r.value.time else None, r.kind, r.number)
            if r.value.time
            else (True, "", r.kind, r.number)
        )
    )
    rows = [
        Row(
            (
                r.label,
                clock(p.dossier, r.value.time) if r.value.time else blank(_("time")),
                r.value.summary(),
                _state(p, r.value, own=own),
                labels(p.dossier, r.value.exhibits) or "-",
            )
        )
        for r in found[:_MOST_FACTS]
    ]
    told: list[Block] = [
        Table(
            (
                Column(_("Record"), 1.5),
                Column(_("When"), 1.7),
                Column(_("What"), 3.9),
                Column(_("State, or by whom"), 1.6),
                Column(_("Exhibits"), 1.5),
            ),
            tuple(rows),
        )
    ]
    if len(found) > _MOST_FACTS:
        told.append(Para(_("{count} more stand in the report of the dossier.").format(count=len(found) - _MOST_FACTS)))
    return told


def _state(p: PaperInput, taken: Taken, *, own: bool) -> str:
    _ = tongue(p.language)
    if not own:
        return p.dossier.party(taken.by) if taken.by else _("not stated")
    words = {"undisturbed": _("as found, undisturbed"), "disturbed": _("disturbed"), "after_repair": _("after repair")}
    return words.get(taken.state or "", _("not stated"))


def _instruments(p: PaperInput, subject: str) -> list[Block]:
    _ = tongue(p.language)
    used = {
        r.value.instrument
        for kind in (Measurement, CodeScan)
        for r in p.dossier.of(kind)
        if not subject or r.value.by == subject
    }
    rows = [
        Row(
            (
                i.value.description,
                blank(_("serial"), i.value.serial),
                blank(_("date of calibration"), i.value.calibrated and i.value.calibrated.given),
                blank(_("document or check"), i.value.calibration_document or i.value.checked_against),
            )
        )
        for i in p.dossier.of(Instrument)
        if i.subject in used
    ]
    if not rows:
        return [Para(blank(_("instruments, with serial and last check")))]
    return [
        Table(
            (
                Column(_("Instrument"), 3),
                Column(_("Serial"), 1.6),
                Column(_("Calibrated"), 1.8),
                Column(_("Shown by"), 2.6),
            ),
            tuple(rows),
        )
    ]


def _opinion(p: PaperInput, subject: str) -> list[Block]:
    _ = tongue(p.language)
    told: list[Block] = [Para(_("What follows is an opinion. It is not what I saw."), tone="caution")]
    given = [o for o in p.dossier.of(Opinion) if not subject or o.value.by == subject]
    for o in given:
        told.append(Para(f"{o.value.text} ({o.label}; {labels(p.dossier, o.value.basis)})"))
    if not given:
        told.append(Para(f"{RULED * 5}\n{RULED * 5} ({_('no opinion is recorded; the technician may write one')})"))
    best = p.leading
    if best:
        told.append(Para(f"{best.weight.statement}", head=_("What the program's rules say of the record.")))
    open_ = [f"{a.claim}: {_words(p, a.status)}" for a in (best.alternatives if best else ()) if not a.resolved]
    told.append(Para("", head=_("The four points of Rule 702, to be shown by the side that calls the witness.")))
    facts = labels(p.dossier, dict.fromkeys(s for o in given for s in o.value.basis))
    told.append(
        Bullets(
            (
                _(
                    "It helps: what a technician knows about this system is not common knowledge. To be completed: {blank}"
                ).format(blank=RULED * 2),
                _("Sufficient facts: {facts}").format(facts=facts or blank(_("records it rests on"))),
                _("Reliable method: part 4; maker's procedure followed: {blank}").format(
                    blank=blank(_("document, date, page"))
                ),
                _("Reliably applied: other causes looked at and how each stands follow."),
            )
        )
    )
    told.append(Bullets(tuple(open_[:12]) or (_("No other cause is listed by the rules used."),)))
    return told


def _words(p: PaperInput, status: str) -> str:
    _ = tongue(p.language)
    return {
        "excluded": _("excluded"),
        "less supported": _("less supported"),
        "open": _("open"),
        "supported": _("supported"),
    }.get(status, say(status))


def _limits(p: PaperInput) -> list[Block]:
    _ = tongue(p.language)
    best = p.leading
    said = [f"{o.label}: {o.value.limits}" for o in p.dossier.of(Opinion) if o.value.limits]
    gaps = [f.statement for f in best.findings if f.answer in ("undecided", "not measured")] if best else []
    said += [_("Not measured or undecided: {what}").format(what=g) for g in gaps[:8]]
    said += [c.reason for c in best.ceilings if c.holds] if best else []
    return [Bullets(tuple(said) or (blank(_("what was not looked at, not measured, not known")),))]
