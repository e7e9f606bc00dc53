"""What the owner allows in writing, and what it may cost."""

from __future__ import annotations

from evidence.model.base import say
from evidence.model.exhibit import Exhibit
from evidence.model.people import Consent
from evidence.report.blocks import Block, Bullets, Facts, Heading, Para, Signature
from evidence.report.papers.paper import RULED, Paper, PaperInput, blank, finished, tongue, whom

BOX = "☐"


def consent(p: PaperInput) -> Paper:
    """Disconnecting, tests that change the state, and keeping of parts: each allowed or refused by itself."""
    _ = tongue(p.language)
    content: list[Block] = [
        Facts(
            (
                (_("Owner"), whom(p, p.party("owner"), _("name of the owner"))),
                (_("Shop"), whom(p, p.party("present_repairer"), _("name of the shop"))),
            )
        ),
        Para(
            _(
                "I am the owner of this vehicle or may act for the owner. I decide each point below by itself. I may take a "
                "consent back at any time; what was done before then stays done."
            )
        ),
        Heading(_("What may be done")),
    ]
    for head, text in (
        (
            _("1. Disconnect."),
            _("The shop may disconnect plugs, cables and hoses to measure, after it has photographed them."),
        ),
        (
            _("2. Test."),
            _(
                "The shop may make tests that change the state or use something up, such as loosening a bolt or "
                "opening a part. Such a state can be seen only once."
            ),
        ),
        (
            _("3. Retain parts."),
            _(
                "The shop keeps the parts listed below, marked and locked away, until I release them in "
                "writing. They are not thrown away and not returned as core."
            ),
        ),
        (_("4. Share data."), _("The shop may give copies of its record to the earlier repairer and to insurers.")),
    ):
        content.append(Para(text, head=head))
        content.append(
            Bullets(
                (_("allowed"), _("refused"), _("allowed, within these limits: {blank}").format(blank=RULED * 3)),
                mark=BOX,
            )
        )
    content += [
        Heading(_("Parts to be kept")),
        _parts(p),
        Heading(_("Already on record")),
        _given(p),
        Para(
            _(
                "Before any test, ask whether the earlier repairer was told and could come to look. A test that changes the "
                "state before that can weaken the claim."
            ),
            head=_("Note."),
        ),
        Signature(
            (
                _("Owner: name in block letters"),
                _("Place and date"),
                _("Signature of the owner"),
                _("Received for the shop: name, signature"),
            )
        ),
    ]
    return finished(p, "consent", _("Consent of the owner"), content)


def _parts(p: PaperInput) -> Block:
    _ = tongue(p.language)
    kept = [f"{e.label}: {e.value.summary()}" for e in p.dossier.of(Exhibit) if e.value.form == "physical"]
    return Bullets((*kept, f"{RULED * 3} ({_('further parts')})"))


def _given(p: PaperInput) -> Block:
    _ = tongue(p.language)
    told = [f"{c.label}: {c.value.summary()} ({c.value.time.given})" for c in p.dossier.of(Consent)]
    return Bullets(tuple(told)) if told else Para(_("No consent is recorded."))


def authorisation(p: PaperInput) -> Paper:
    """What the diagnosis may cost, who allowed it and how, and what has to be asked again."""
    _ = tongue(p.language)
    said = next((c.value for c in p.dossier.of(Consent) if c.value.to == "diagnose" and c.value.granted), None)
    limit = said.limit if said else None
    steps = p.leading.plan if p.leading else p.assessment.candidates[0].plan if p.assessment.candidates else ()
    rows = (
        (_("Owner"), whom(p, p.party("owner"), _("name of the owner"))),
        (_("Shop"), whom(p, p.party("present_repairer"), _("name of the shop"))),
        (_("Complaint, in the owner's words"), blank(_("complaint"), p.dossier.opening.complaint)),
        (_("Estimated hours"), blank(_("hours"))),
        (_("Rate for an hour, and tax"), blank(_("rate and tax"))),
        (
            _("Limit without asking again"),
            p.money(limit.number, limit.currency) if limit else blank(_("sum and currency")),
        ),
        (
            _("Given by"),
            f"{say(said.channel)}, {said.time.given}"
            if said and p.language == "en"
            else said.time.given
            if said
            else blank(_("paper, message, telephone; date and time")),
        ),
    )
    content: list[Block] = [
        Facts(rows),
        Heading(_("What is to be done")),
        Bullets(tuple(s.what for s in steps[:6]) or (f"{RULED * 3} ({_('tests')})",), mark=BOX),
        Para(
            _(
                "These steps come from the plan of what to capture next. Those that change the state need a consent of their own."
            )
        ),
        Heading(_("Agreed")),
        Bullets(
            (
                _(
                    "The shop finds the cause within the limit above. It asks before it goes past the limit and notes who agreed, when and how."
                ),
                _(
                    "Diagnosis is not repair. A repair needs an estimate of its own, with rework of the earlier job apart from the damage that followed."
                ),
                _("I want the replaced parts back, or kept as evidence."),
                _("The shop may contact the earlier repairer."),
            ),
            mark=BOX,
        ),
        Para(
            _(
                "Places differ in what an estimate and an authorisation must say. Check the rules of the place before use."
            )
        ),
        Signature(
            (
                _("Owner: name in block letters"),
                _("Place and date"),
                _("Signature of the owner"),
                _("For the shop: name, signature"),
            )
        ),
    ]
    return finished(p, "authorisation", _("Authorisation and estimate for diagnosis"), content)
