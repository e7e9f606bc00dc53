"""The statement of a technician who will be heard: facts seen, method, opinion apart, limits.

The worked form follows US Federal Rules of Evidence 602 (personal knowledge) and 702 as amended on 1 December 2023 (the four
points that the side calling an expert must show). Other places: local practice.
"""

from __future__ import annotations

from evidence.model.dossier import Recorded
from evidence.model.examination import CodeScan, Measurement, Observation, Taken
from evidence.model.instrument import Instrument
from evidence.model.people import Opinion, Party
from evidence.report.blocks import Block, Bullets, Column, Facts, Heading, Para, Row, Signature, Table
from evidence.report.papers.common import RULED, form, ruled
from evidence.report.papers.explaining import capital, ceiling, claim, not_shown, points, status, weight
from evidence.report.papers.paper import Paper, PaperInput
from evidence.report.papers.records import STATES, exhibits, numbered
from evidence.report.papers.records import taken as told
from evidence.rules.assessment import Candidate

_MOST_FACTS = 400  # some thirty pages: nobody signs more


def statement(p: PaperInput) -> Paper:
    """The statement; an opinion is printed only where one is recorded, and apart from what was seen."""
    t = p.words
    who = _technician(p)
    subject, party = (who.subject, who.value) if who else ("", None)
    own = next((o.value for o in p.dossier.of(Opinion) if o.value.by == subject), None)
    content: list[Block] = [
        Facts(
            (
                (t("Name"), ruled(t("name of the technician"), party and party.full_name)),
                (
                    t("Firm and address"),
                    ruled(t("firm and address"), party and ", ".join(filter(None, (party.firm, p.address_of(party))))),
                ),
                (
                    t("Qualification"),
                    ruled(
                        t("training, licences, years of experience"),
                        t.own((party and party.qualification) or (own and own.qualification) or ""),
                    ),
                ),
                (
                    t("Interest in the result"),
                    ruled(
                        t("what the technician gains or loses by it"),
                        t.own((party and party.interest) or (own and own.interest) or ""),
                    ),
                ),
            )
        ),
        Heading(t("1. Personal knowledge (Rule 602)")),
        Para(
            t(
                "I state in part 2 only what I saw, read or measured myself. What others told me or did stands in part 3 with its source."
            )
        ),
        Heading(t("2. Facts that I saw or measured")),
        *_facts(p, subject, own=True),
        Heading(t("3. Facts that I rely on and did not see")),
        *_facts(p, subject, own=False),
        Heading(t("4. Method and instruments")),
        *_instruments(p, subject),
        Para(
            t(
                "Values were held against their limits with the limits of error of the instrument. A value whose range straddles "
                "the limit was called undecided."
            )
        ),
        Heading(t("5. Opinion, apart from the facts (Rule 702)")),
        *_opinion(p, subject),
        *_closing(p),
    ]
    return form(p, "technician", t("Statement of the technician"), content)


def _closing(p: PaperInput) -> tuple[Block, ...]:
    """Limits, and the words to sign."""
    t = p.words
    return (
        Heading(t("6. Limits")),
        *_limits(p),
        Para(
            t(
                "In the United States an unsworn statement may close with the words of 28 U.S.C. 1746, if the signer chooses so: “I declare "
                "under penalty of perjury that the foregoing is true and correct. Executed on (date).” Elsewhere use the form of the "
                "place. Rules 602 and 702 are a worked form of the US federal courts; other courts have their own."
            ),
            tone="small",
        ),
        Para(
            t(
                "I have read this statement and can be asked about it. I correct here what is wrong or not mine: {blank}"
            ).format(blank=RULED * 3)
        ),
        Signature((t("Name in block letters"), t("Place and date"), t("Signature"))),
    )


def _technician(p: PaperInput) -> Recorded[Party] | None:
    """The party in the role; of several the one who took most of the readings."""
    taken = [r.value.by for kind in (Measurement, Observation, CodeScan) for r in p.dossier.of(kind)]
    found = [r for r in p.dossier.of(Party) if "technician" in r.value.roles]
    return max(found, key=lambda r: taken.count(r.subject), default=None)


def _facts(p: PaperInput, subject: str, *, own: bool) -> list[Block]:
    t = p.words
    found: list[Recorded[Taken]] = [
        r
        for kind in (Observation, Measurement, CodeScan)
        for r in p.dossier.of(kind)
        if (r.value.by == subject and bool(subject)) == own
    ]
    if not found:
        return [Para(t("None on record."))]
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
                numbered(p, [r.label]),
                t.moment(r.value.time, p.zone) if r.value.time else ruled(t("time")),
                capital(told(p, r.value)),
                _state(p, r.value, own=own),
                exhibits(p, r.value.exhibits),
            )
        )
        for r in found[:_MOST_FACTS]
    ]
    listed: list[Block] = [
        Table(
            (
                Column(t("Record"), 1.5),
                Column(t("When"), 1.7),
                Column(t("What"), 3.9),
                Column(t("State, or by whom"), 1.6),
                Column(t("Exhibits"), 1.5),
            ),
            tuple(rows),
        )
    ]
    if len(found) > _MOST_FACTS:
        listed.append(
            Para(t("{count} more stand in the report of the dossier.").format(count=len(found) - _MOST_FACTS))
        )
    return listed


def _state(p: PaperInput, taken: Taken, *, own: bool) -> str:
    t = p.words
    if not own:
        return p.dossier.party(taken.by) if taken.by else t("not stated")
    return t(STATES[taken.state]) if taken.state else t("not stated")


def _instruments(p: PaperInput, subject: str) -> list[Block]:
    t = p.words
    used = {
        r.value.instrument
        for kind in (Measurement, CodeScan)
        for r in p.dossier.of(kind)
        if not subject or r.value.by == subject
    }
    rows = [
        Row(
            (
                t.own(i.value.description),
                ruled(t("serial"), i.value.serial),
                ruled(t("date of calibration"), i.value.calibrated and t.moment(i.value.calibrated, p.zone)),
                ruled(t("document or check"), t.own(i.value.calibration_document or i.value.checked_against or "")),
            )
        )
        for i in p.dossier.of(Instrument)
        if i.subject in used
    ]
    if not rows:
        return [Para(ruled(t("instruments, with serial and last check")))]
    return [
        Table(
            (
                Column(t("Instrument"), 3),
                Column(t("Serial"), 1.6),
                Column(t("Calibrated"), 1.8),
                Column(t("Shown by"), 2.6),
            ),
            tuple(rows),
        )
    ]


def _opinion(p: PaperInput, subject: str) -> list[Block]:
    t = p.words
    told: list[Block] = [Para(t("What follows is an opinion. It is not what I saw."), tone="caution")]
    given = [o for o in p.dossier.of(Opinion) if not subject or o.value.by == subject]
    told += [
        Para(f"{t.own(o.value.text)} [{numbered(p, [o.label, *map(p.dossier.label, o.value.basis)])}]") for o in given
    ]
    if not given:
        told.append(Para(f"{RULED * 5}\n{RULED * 5} ({t('no opinion is recorded; the technician may write one')})"))
    head = t("What the program's rules say of the record.")
    told.append(Para(weight(p, p.leading) if p.leading else not_shown(p), head=head))
    open_ = _others(p, p.argued) if p.argued else []
    told.append(Para("", head=t("The four points of Rule 702, to be shown by the side that calls the witness.")))
    facts = numbered(p, (p.dossier.label(s) for o in given for s in o.value.basis))
    told.append(
        Bullets(
            (
                t(
                    "It helps: what a technician knows about this system is not common knowledge. To be completed: {blank}"
                ).format(blank=RULED * 2),
                t("Sufficient facts: {facts}").format(facts=facts or ruled(t("records it rests on"))),
                t("Reliable method: part 4; maker's procedure followed: {blank}").format(
                    blank=ruled(t("document, date, page"))
                ),
                t("Reliably applied: other causes looked at and how each stands follow."),
            )
        )
    )
    told.append(Bullets(tuple(open_) or (t("No other cause is listed by the rules used."),)))
    return told


def _others(p: PaperInput, best: Candidate) -> list[str]:
    return [f"{capital(claim(p, best, a))}: {status(p, a)}" for a in best.alternatives if not a.resolved]


def _limits(p: PaperInput) -> list[Block]:
    t = p.words
    best = p.argued
    said = [f"{numbered(p, [o.label])}: {t.own(o.value.limits)}" for o in p.dossier.of(Opinion) if o.value.limits]
    gaps = points(p, best, ("undecided", "not measured")) if best else []
    said += [t("Not measured or undecided: {what}").format(what=g) for g in gaps]
    said += [ceiling(p, best, c) for c in best.ceilings if c.holds] if best else []
    return [Bullets(tuple(said) or (ruled(t("what was not looked at, not measured, not known")),))]
