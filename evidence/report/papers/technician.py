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
from evidence.report.papers.common import RULED, form, ruled
from evidence.report.papers.paper import Paper, PaperInput
from evidence.report.words import clock, labels

_MOST_FACTS = 40


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
                    ruled(t("firm and address"), party and ", ".join(filter(None, (party.firm, party.address)))),
                ),
                (
                    t("Qualification"),
                    ruled(
                        t("training, licences, years of experience"),
                        (party and party.qualification) or (own and own.qualification),
                    ),
                ),
                (
                    t("Interest in the result"),
                    ruled(
                        t("what the technician gains or loses by it"),
                        (party and party.interest) or (own and own.interest),
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
                r.label,
                clock(p.dossier, r.value.time) if r.value.time else ruled(t("time")),
                _whole(r.value),
                _state(p, r.value, own=own),
                labels(p.dossier, r.value.exhibits) or "-",
            )
        )
        for r in found[:_MOST_FACTS]
    ]
    told: list[Block] = [
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
        told.append(Para(t("{count} more stand in the report of the dossier.").format(count=len(found) - _MOST_FACTS)))
    return told


def _whole(taken: Taken) -> str:
    """What was seen or read, uncut."""
    if isinstance(taken, Observation):
        return f"{say(taken.of)}{taken.where()}: {taken.text}"
    return taken.summary()


def _state(p: PaperInput, taken: Taken, *, own: bool) -> str:
    t = p.words
    if not own:
        return p.dossier.party(taken.by) if taken.by else t("not stated")
    words = {"undisturbed": t("as found, undisturbed"), "disturbed": t("disturbed"), "after_repair": t("after repair")}
    return words.get(taken.state or "", t("not stated"))


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
                i.value.description,
                ruled(t("serial"), i.value.serial),
                ruled(t("date of calibration"), i.value.calibrated and i.value.calibrated.given),
                ruled(t("document or check"), i.value.calibration_document or i.value.checked_against),
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
    told += [Para(f"{o.value.text} ({o.label}; {labels(p.dossier, o.value.basis)})") for o in given]
    if not given:
        told.append(Para(f"{RULED * 5}\n{RULED * 5} ({t('no opinion is recorded; the technician may write one')})"))
    best = p.leading
    if best:
        told.append(Para(f"{best.weight.statement}", head=t("What the program's rules say of the record.")))
    open_ = [f"{a.claim}: {_words(p, a.status)}" for a in (best.alternatives if best else ()) if not a.resolved]
    told.append(Para("", head=t("The four points of Rule 702, to be shown by the side that calls the witness.")))
    facts = labels(p.dossier, dict.fromkeys(s for o in given for s in o.value.basis))
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
    told.append(Bullets(tuple(open_[:12]) or (t("No other cause is listed by the rules used."),)))
    return told


def _words(p: PaperInput, status: str) -> str:
    t = p.words
    return {
        "excluded": t("excluded"),
        "less supported": t("less supported"),
        "open": t("open"),
        "supported": t("supported"),
    }.get(status, say(status))


def _limits(p: PaperInput) -> list[Block]:
    t = p.words
    best = p.leading
    said = [f"{o.label}: {o.value.limits}" for o in p.dossier.of(Opinion) if o.value.limits]
    gaps = [f.statement for f in best.findings if f.answer in ("undecided", "not measured")] if best else []
    said += [t("Not measured or undecided: {what}").format(what=g) for g in gaps[:8]]
    said += [c.reason for c in best.ceilings if c.holds] if best else []
    return [Bullets(tuple(said) or (ruled(t("what was not looked at, not measured, not known")),))]
