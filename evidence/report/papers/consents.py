"""What the owner allows in writing, and what it may cost."""

from __future__ import annotations

from evidence.model.exhibit import Exhibit
from evidence.model.people import Consent
from evidence.report.blocks import Block, Bullets, Facts, Heading, Para, Signature
from evidence.report.papers.common import RULED, form, ruled, whom
from evidence.report.papers.explaining import step
from evidence.report.papers.paper import Paper, PaperInput
from evidence.report.papers.records import caption, consented, numbered

BOX = "☐"
_MOST_STEPS = 6


def consent(p: PaperInput) -> Paper:
    """Disconnecting, tests that change the state, and keeping of parts: each allowed or refused by itself."""
    t = p.words
    content: list[Block] = [
        Facts(
            (
                (t("Owner"), whom(p, p.party("owner"), t("name of the owner"))),
                (t("Shop"), whom(p, p.party("present_repairer"), t("name of the shop"))),
            )
        ),
        Para(
            t(
                "I am the owner of this vehicle or may act for the owner. I decide each point below by itself. I may take a "
                "consent back at any time; what was done before then stays done."
            )
        ),
        Heading(t("What may be done")),
    ]
    for head, text in (
        (
            t("1. Disconnect."),
            t("The shop may disconnect plugs, cables and hoses to measure, after it has photographed them."),
        ),
        (
            t("2. Test."),
            t(
                "The shop may make tests that change the state or use something up, such as loosening a bolt or "
                "opening a part. Such a state can be seen only once."
            ),
        ),
        (
            t("3. Retain parts."),
            t(
                "The shop keeps the parts listed below, marked and locked away, until I release them in "
                "writing. They are not thrown away and not returned as core."
            ),
        ),
        (t("4. Share data."), t("The shop may give copies of its record to the earlier repairer and to insurers.")),
    ):
        content.append(Para(text, head=head))
        content.append(
            Para(
                f"{BOX} {t('allowed')}   {BOX} {t('refused')}   {BOX} "
                + t("allowed, within these limits: {blank}").format(blank=RULED * 3)
            )
        )
    content += [
        *_kept(p),
    ]
    return form(p, "consent", t("Consent of the owner"), content)


def _kept(p: PaperInput) -> tuple[Block, ...]:
    """Parts, earlier consents, the lines to sign on."""
    t = p.words
    return (
        Heading(t("Parts to be kept")),
        _parts(p),
        Heading(t("Already on record")),
        _given(p),
        Para(
            t(
                "Before any test, ask whether the earlier repairer was told and could come to look. A test that changes the "
                "state before that can weaken the claim."
            ),
            head=t("Note."),
        ),
        Signature(
            (
                t("Owner: name in block letters"),
                t("Place and date"),
                t("Signature of the owner"),
                t("Received for the shop: name, signature"),
            )
        ),
    )


def _parts(p: PaperInput) -> Block:
    t = p.words
    kept = [
        f"{numbered(p, [e.label])}: {caption(p, e.value)}" for e in p.dossier.of(Exhibit) if e.value.form == "physical"
    ]
    return Bullets((*kept, f"{RULED * 3} ({t('further parts')})"))


def _given(p: PaperInput) -> Block:
    t = p.words
    told = [f"{numbered(p, [c.label])}: {consented(p, c.value)}" for c in p.dossier.of(Consent)]
    return Bullets(tuple(told)) if told else Para(t("No consent is recorded."))


def authorisation(p: PaperInput) -> Paper:
    """What the diagnosis may cost, who allowed it and how, and what has to be asked again."""
    t = p.words
    said = next((c.value for c in p.dossier.of(Consent) if c.value.to == "diagnose" and c.value.granted), None)
    limit = said.limit if said else None
    best = p.argued
    steps = tuple(step(p, best, s) for s in best.plan[:_MOST_STEPS]) if best else ()
    rows = (
        (t("Owner"), whom(p, p.party("owner"), t("name of the owner"))),
        (t("Shop"), whom(p, p.party("present_repairer"), t("name of the shop"))),
        (t("Complaint, in the owner's words"), ruled(t("complaint"), t.own(p.dossier.opening.complaint or ""))),
        (t("Estimated hours"), ruled(t("hours"))),
        (t("Rate for an hour, and tax"), ruled(t("rate and tax"))),
        (
            t("Limit without asking again"),
            t.money(limit.number, limit.currency) if limit else ruled(t("sum and currency")),
        ),
        (
            t("Given by"),
            f"{t.word(said.channel)}, {t.moment(said.time, p.zone)}"
            if said
            else ruled(t("paper, message, telephone; date and time")),
        ),
    )
    content: list[Block] = [
        Facts(rows),
        Heading(t("What is to be done")),
        Bullets(steps or (f"{RULED * 3} ({t('tests')})",), mark=BOX),
        Para(
            t(
                "These steps come from the plan of what to capture next. Those that change the state need a consent of their own."
            )
        ),
        *_agreed(p),
    ]
    return form(p, "authorisation", t("Authorisation and estimate for diagnosis"), content)


def _agreed(p: PaperInput) -> tuple[Block, ...]:
    """What both agree to, and the lines to sign on."""
    t = p.words
    return (
        Heading(t("Agreed")),
        Bullets(
            (
                t(
                    "The shop finds the cause within the limit above. It asks before it goes past the limit and notes who agreed, when and how."
                ),
                t(
                    "Diagnosis is not repair. A repair needs an estimate of its own, with rework of the earlier job apart from the damage that followed."
                ),
                t("I want the replaced parts back, or kept as evidence."),
                t("The shop may contact the earlier repairer."),
            ),
            mark=BOX,
        ),
        Para(
            t(
                "Places differ in what an estimate and an authorisation must say. Check the rules of the place before use."
            )
        ),
        Signature(
            (
                t("Owner: name in block letters"),
                t("Place and date"),
                t("Signature of the owner"),
                t("For the shop: name, signature"),
            )
        ),
    )
