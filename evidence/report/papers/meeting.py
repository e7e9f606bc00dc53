"""What both sides do together: look at the vehicle, and end the matter."""

from __future__ import annotations

from evidence.model.exhibit import Exhibit
from evidence.model.people import Correspondence, Party
from evidence.report.blocks import Block, Bullets, Column, Facts, Heading, Para, Row, Signature, Table
from evidence.report.papers.consents import BOX
from evidence.report.papers.paper import RULED, Paper, PaperInput, blank, finished, tongue, whom

_EMPTY_LINES = 5


def inspection(p: PaperInput) -> Paper:
    """Who was there, what was done in which order, what each saw; to be filled in on the spot."""
    _ = tongue(p.language)
    offers = [c for c in p.dossier.of(Correspondence) if c.value.about == "inspection_opportunity"]
    named = [
        r.value
        for r in p.dossier.of(Party)
        if {"present_repairer", "prior_repairer", "owner", "adjuster"} & set(r.value.roles)
    ]
    there = [Row((f"{q.full_name}{', ' + q.firm if q.firm else ''}", "", "", "")) for q in named]
    kept = [Row((e.label, e.value.summary(), "", "")) for e in p.dossier.of(Exhibit) if e.value.form == "physical"]
    steps = [s for s in (p.assessment.candidates[0].plan if p.assessment.candidates else ()) if s.alters][:4]
    done = [Row((str(n), s.what, "", "")) for n, s in enumerate(steps, 1)]
    done += [Row((str(n), " \n ", "", "")) for n in range(len(done) + 1, len(done) + 1 + _EMPTY_LINES)]
    content: list[Block] = [
        Facts(
            (
                (
                    _("Offer to inspect"),
                    "; ".join(f"{c.label} ({c.value.sent.given})" for c in offers) or blank(_("letter and date")),
                ),
                (_("Place"), blank(_("place of the inspection"))),
                (_("Begun, ended"), blank(_("date, time and zone"))),
                (_("Odometer, as read by both"), blank(_("reading and unit"))),
            )
        ),
        Para(_("Names printed here are those on record. Tick who was there; strike out who was not; add the others.")),
        Heading(_("Who was there")),
        _table(
            (_("Name and firm"), _("For whom"), _("From - to"), _("Present")),
            (3, 2, 1.5, 1),
            [*there, *_empty(3)],
            last=BOX,
        ),
        Heading(_("What was shown, and its seals")),
        _table(
            (_("Item"), _("What"), _("Seal and state before"), _("Seal and state after")),
            (1.2, 3, 2, 2),
            [*kept, *_empty(2)],
        ),
        Heading(_("What was done, in this order")),
        Para(
            _(
                "Agree on each step before it is made. Steps printed here are planned ones that change the state: who does not "
                "agree says so in the last column, and the step waits. Photograph or film each step; both may take pictures."
            )
        ),
        _table(
            (_("No."), _("Step, instrument, reading with unit"), _("By, at"), _("Agreed by")),
            (0.6, 4.4, 1.6, 1.6),
            done,
        ),
        Heading(_("What each saw")),
        Para(_("Each side writes down what it saw, in its own words. No side signs for what the other saw.")),
    ]
    for who in (_("Shop"), _("Earlier repairer"), _("Owner or adjuster")):
        content.append(Para("\n".join((RULED * 6,) * 3), head=who))
    content += [
        Heading(_("At the end")),
        Bullets(
            (
                _("samples split; each side has its own, sealed"),
                _("items sealed again, numbers as listed"),
                _("pictures and readings exchanged"),
                _("the vehicle may be repaired from: {blank}").format(blank=RULED),
            ),
            mark=BOX,
        ),
        Para(
            _("A signature says that the list of persons and steps is right. It accepts no liability and no opinion.")
        ),
        Signature(
            (
                _("For the shop: name, signature"),
                _("For the earlier repairer: name, signature"),
                _("Owner: name, signature"),
                _("Adjuster: name, signature"),
            )
        ),
    ]
    return finished(p, "inspection", _("Protocol of a joint inspection"), content)


def _table(heads: tuple[str, ...], shares: tuple[float, ...], rows: list[Row], last: str = "") -> Table:
    columns = tuple(Column(h, s) for h, s in zip(heads, shares, strict=True))
    return Table(columns, tuple(Row((*r.cells[: len(heads) - 1], r.cells[len(heads) - 1] or last)) for r in rows))


def _empty(count: int) -> list[Row]:
    return [Row((" \n ", "", "", ""))] * count


def settlement(p: PaperInput) -> Paper:
    """A draft that both sides may change; no offer stands in it, since talks are kept apart from the evidence."""
    _ = tongue(p.language)
    claimed = p.loss and p.money(p.loss.claimed.total, p.loss.currency)
    content: list[Block] = [
        Para(_("Draft. It binds nobody until both have signed. Strike out what is not agreed.")),
        Facts(
            (
                (_("Owner"), whom(p, p.party("owner"), _("name of the owner"))),
                (_("Earlier repairer"), whom(p, p.party("prior_repairer"), _("legal name of the earlier repairer"))),
                (_("Claimed by the record"), blank(_("sum claimed"), claimed)),
            )
        ),
        Heading(_("1. Payment")),
        Para(
            _("The earlier repairer pays {sum} to the owner by {day}, by {way}.").format(
                sum=blank(_("sum and currency agreed")), day=blank(_("date")), way=blank(_("way of payment"))
            )
        ),
        Heading(_("2. No admission")),
        Para(_("The payment settles a dispute. Nobody admits anything by it.")),
        Heading(_("3. What is released")),
        Para(
            _(
                "Once the whole sum has arrived, the owner gives up the claims listed here and no others: {list}. Damage that is "
                "not yet known is released only if it is written here: {later}."
            ).format(list=blank(_("heads of loss that are paid")), later=blank(_("yes or no, and which")))
        ),
        Heading(_("4. If the money does not come")),
        Para(_("If it has not arrived by the day above, the release falls away and the owner may claim the whole.")),
        Heading(_("5. Parts and records")),
        Para(
            _(
                "The parts kept as evidence are released on the day of payment to: {who}. Until then nobody changes them. "
                "Each side keeps its records for: {time}."
            ).format(who=blank(_("name")), time=blank(_("period")))
        ),
        Bullets(
            tuple(f"{e.label}: {e.value.summary()}" for e in p.dossier.of(Exhibit) if e.value.form == "physical")
            or (f"{RULED * 2} ({_('parts')})",)
        ),
        Heading(_("6. Costs, insurers, law of the place")),
        Para(
            _("Costs: {costs}. An insurer that paid or must agree: {insurer}. Law and court: {law}.").format(
                costs=blank(_("who bears which")), insurer=blank(_("name, or none")), law=blank(_("place"))
            )
        ),
        Para(_("Read it over a night. A release can end claims for good: have it looked at before you sign.")),
        Signature((_("Owner: name, date, signature"), _("Earlier repairer: name, office, date, signature"))),
    ]
    return finished(p, "settlement", _("Settlement and release (draft)"), content)
