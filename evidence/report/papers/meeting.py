"""What both sides do together: look at the vehicle, and end the matter."""

from __future__ import annotations

from evidence.model.exhibit import Exhibit
from evidence.model.people import Correspondence, Party
from evidence.report.blocks import Block, Bullets, Column, Facts, Heading, Para, Row, Signature, Table
from evidence.report.papers.common import RULED, form, ruled, whom
from evidence.report.papers.consents import BOX
from evidence.report.papers.explaining import step
from evidence.report.papers.paper import EMPTY, Paper, PaperInput
from evidence.report.papers.records import caption, numbered

_EMPTY_LINES = 4


def inspection(p: PaperInput) -> Paper:
    """Who was there, what was done in which order, what each saw; to be filled in on the spot."""
    t = p.words
    offers = [c for c in p.dossier.of(Correspondence) if c.value.about == "inspection_opportunity"]
    there, kept, done = _there(p), _items(p), _steps(p)
    content: list[Block] = [
        Facts(
            (
                (
                    t("Offer to inspect"),
                    "; ".join(f"{numbered(p, [c.label])} ({t.moment(c.value.sent, p.zone)})" for c in offers)
                    or ruled(t("letter and date")),
                ),
                (t("Place"), ruled(t("place of the inspection"))),
                (t("Begun, ended"), ruled(t("date, time and zone"))),
                (t("Odometer, as read by both"), ruled(t("reading and unit"))),
            )
        ),
        Para(t("Names printed here are those on record. Tick who was there; strike out who was not; add the others.")),
        Heading(t("Who was there")),
        _table(
            (t("Name and firm"), t("For whom"), t("From - to"), t("Present")),
            (3, 2, 1.5, 1),
            [*there, *_empty(2)],
            last=BOX,
        ),
        Heading(t("What was shown, and its seals")),
        _table(
            (t("Item"), t("What"), t("Seal and state before"), t("Seal and state after")),
            (1.2, 3, 2, 2),
            [*kept, *_empty(1 if kept else 2)],
        ),
        Heading(t("What was done, in this order")),
        Para(
            t(
                "Agree on each step before it is made. Steps printed here are planned ones that change the state: who does not "
                "agree says so in the last column, and the step waits. Photograph or film each step; both may take pictures."
            )
        ),
        _table(
            (t("No."), t("Step, instrument, reading with unit"), t("By, at"), t("Agreed by")),
            (0.6, 4.4, 1.6, 1.6),
            done,
        ),
        *_ending(p),
    ]
    return form(p, "inspection", t("Protocol of a joint inspection"), content)


def _there(p: PaperInput) -> list[Row]:
    """Whoever may come, with room to write."""
    sides = {"present_repairer", "prior_repairer", "owner", "adjuster"}
    named = [r.value for r in p.dossier.of(Party) if sides & set(r.value.roles)]
    return [Row((f"{q.full_name}{', ' + q.firm if q.firm else ''}", "", "", "")) for q in named]


def _items(p: PaperInput) -> list[Row]:
    things = [e for e in p.dossier.of(Exhibit) if e.value.form == "physical"]
    return [Row((numbered(p, [e.label]), caption(p, e.value), "", "")) for e in things]


def _steps(p: PaperInput) -> list[Row]:
    """The planned steps that change the state, then empty lines."""
    best = p.argued
    planned = [step(p, best, s) for s in best.plan if s.alters][:4] if best else []
    done = [Row((str(n), text, "", "")) for n, text in enumerate(planned, 1)]
    return done + [Row((str(n), EMPTY, "", "")) for n in range(len(done) + 1, len(done) + 1 + _EMPTY_LINES)]


def _ending(p: PaperInput) -> tuple[Block, ...]:
    """What is settled before they part, and the lines to sign on."""
    t = p.words
    each = (t("Shop"), t("Earlier repairer"), t("Owner or adjuster"))
    return (
        Heading(t("What each saw")),
        Para(t("Each side writes down what it saw, in its own words. No side signs for what the other saw.")),
        *(Para("\n" + "\n".join((RULED * 6,) * 3), head=who) for who in each),
        Heading(t("At the end")),
        Bullets(
            (
                t("samples split; each side has its own, sealed"),
                t("items sealed again, numbers as listed"),
                t("pictures and readings exchanged"),
                t("the vehicle may be repaired from: {blank}").format(blank=RULED),
            ),
            mark=BOX,
        ),
        Para(
            t("A signature says that the list of persons and steps is right. It accepts no liability and no opinion.")
        ),
        Signature(
            (
                t("For the shop: name, signature"),
                t("For the earlier repairer: name, signature"),
                t("Owner: name, signature"),
                t("Adjuster: name, signature"),
            )
        ),
    )


def _table(heads: tuple[str, ...], shares: tuple[float, ...], rows: list[Row], last: str = "") -> Table:
    columns = tuple(Column(h, s) for h, s in zip(heads, shares, strict=True))
    return Table(columns, tuple(Row((*r.cells[: len(heads) - 1], r.cells[len(heads) - 1] or last)) for r in rows))


def _empty(count: int) -> list[Row]:
    return [Row((EMPTY, "", "", ""))] * count


def settlement(p: PaperInput) -> Paper:
    """A draft that both sides may change; no offer stands in it, since talks are kept apart from the evidence."""
    t = p.words
    claimed = p.loss and t.money(p.loss.claimed.total, p.loss.currency)
    content: list[Block] = [
        Para(t("Draft. It binds nobody until both have signed. Strike out what is not agreed.")),
        Facts(
            (
                (t("Owner"), whom(p, p.party("owner"), t("name of the owner"))),
                (t("Earlier repairer"), whom(p, p.party("prior_repairer"), t("legal name of the earlier repairer"))),
                (t("Claimed by the record"), ruled(t("sum claimed"), claimed)),
            )
        ),
        Para(
            head=t("1. Payment."),
            text=t("The earlier repairer pays {sum} to the owner by {day}, by {way}.").format(
                sum=ruled(t("sum and currency agreed")), day=ruled(t("date")), way=ruled(t("way of payment"))
            ),
        ),
        Para(head=t("2. No admission."), text=t("The payment settles a dispute. Nobody admits anything by it.")),
        Para(
            head=t("3. What is released."),
            text=t(
                "Once the whole sum has arrived, the owner gives up the claims listed here and no others: {list}. Damage that is "
                "not yet known is released only if it is written here: {later}."
            ).format(list=ruled(t("heads of loss that are paid")), later=ruled(t("yes or no, and which"))),
        ),
        Para(
            head=t("4. If the money does not come."),
            text=t("If it has not arrived by the day above, the release falls away and the owner may claim the whole."),
        ),
        Para(
            head=t("5. Parts and records."),
            text=t(
                "The parts kept as evidence are released on the day of payment to: {who}. Until then nobody changes them. "
                "Each side keeps its records for: {time}."
            ).format(who=ruled(t("name")), time=ruled(t("period"))),
        ),
        Bullets(
            tuple(
                f"{numbered(p, [e.label])}: {caption(p, e.value)}"
                for e in p.dossier.of(Exhibit)
                if e.value.form == "physical"
            )
            or (f"{RULED * 2} ({t('parts')})",)
        ),
        Para(
            head=t("6. Costs, insurers, law of the place."),
            text=t("Costs: {costs}. An insurer that paid or must agree: {insurer}. Law and court: {law}.").format(
                costs=ruled(t("who bears which")), insurer=ruled(t("name, or none")), law=ruled(t("place"))
            ),
        ),
        Para(t("Read it over a night. A release can end claims for good: have it looked at before you sign.")),
        Signature((t("Owner: name, date, signature"), t("Earlier repairer: name, office, date, signature"))),
    ]
    return form(p, "settlement", t("Settlement and release (draft)"), content)
