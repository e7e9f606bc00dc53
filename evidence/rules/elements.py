"""The five elements that must each be shown before a dossier is called complete, and what is missing of each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from evidence.model.base import say, shorten
from evidence.model.exhibit import Exhibit
from evidence.model.loss import LossItem
from evidence.model.people import Consent, Correspondence, CustodyTransfer
from evidence.rules.assessment import AlternativeResult, Element, OrderInTime, Point
from evidence.rules.examine import Examined
from evidence.rules.holdings import Holdings
from evidence.rules.matching import hands_on
from evidence.rules.papers import order_gaps
from evidence.rules.replies import Reply


def elements(
    examined: Examined, common: Mapping[str, Reply], rivals: Sequence[AlternativeResult], order: OrderInTime
) -> tuple[Element, ...]:
    """In the order in which they are argued."""
    holdings = examined.setting.holdings
    return (
        _prior_work(examined, common["C1"]),
        _departure(examined, common),
        _cause(examined, rivals, order),
        _loss(holdings),
        _custody(holdings),
    )


def _prior_work(examined: Examined, in_hand: Reply) -> Element:
    holdings, mechanism = examined.setting.holdings, examined.call.mechanism
    shown: list[Point] = []
    missing: list[str] = []
    for order in holdings.prior_orders:
        lines = hands_on(order.value, mechanism, examined.setting.vocabulary)
        if lines:
            texts = "; ".join(shorten(line.text, 80) for line in lines)
            shown.append(Point(text=f"work with hands on these parts: {texts}", records=(order.label,)))
            missing += [f"{gap} on {order.label}" for gap in order_gaps(order.value)]
    if in_hand.answer != "met":
        missing[:0] = in_hand.reasons or ("the prior work order",)
    return Element(
        name="prior work", question="Had the prior work hands on the part?", shown=tuple(shown), missing=tuple(missing),
        complete=in_hand.answer == "met",
    )  # fmt: skip


def _departure(examined: Examined, common: Mapping[str, Reply]) -> Element:
    shown, missing = _limb(examined, "D")
    if common["C5"].answer != "met":
        missing += common["C5"].reasons
    if common["C7"].answer != "met":
        missing += common["C7"].reasons
    return Element(
        name="departure", question="Was the work left short of the maker's document or of sound practice?",
        shown=tuple(shown), missing=tuple(missing), complete=bool(shown) and common["C5"].answer == "met",
    )  # fmt: skip


def _limb(examined: Examined, limb: str) -> tuple[list[Point], list[str]]:
    """Points for the findings met; what is open only where none is."""
    findings = [f for f in examined.call.mechanism.findings if f.limb == limb]
    shown = [
        Point(text=f"{f.id}: {f.statement}", records=examined.replies[f.id].labels)
        for f in findings
        if examined.replies[f.id].answer == "met"
    ]
    still = [f for f in findings if examined.replies[f.id].answer in ("not measured", "undecided")]
    return shown, [] if shown else [f"{f.id} ({examined.replies[f.id].answer}): {f.statement}" for f in still]


def _cause(examined: Examined, rivals: Sequence[AlternativeResult], order: OrderInTime) -> Element:
    link, no_link = _limb(examined, "L")
    effect, no_effect = _limb(examined, "E")
    shown = [*link, *effect]
    missing = [*(f"link, {m}" for m in no_link), *(f"effect, {m}" for m in no_effect)]
    if not link and not no_link:
        missing.append("no link finding is met")
    if not effect and not no_effect:
        missing.append("no effect finding is met")
    if order.answer == "met":
        shown.append(Point(text=order.sentence, records=order.records))
    else:
        missing.append(f"order in time ({order.answer}): {order.sentence}")
    dealt = [r for r in rivals if r.status == "excluded"]
    if dealt:
        records = tuple(dict.fromkeys(x for r in dealt for x in r.records))
        shown.append(Point(text=f"alternatives excluded: {', '.join(r.id for r in dealt)}", records=records))
    missing += [f"{r.id} is {r.status}: {r.claim}" for r in rivals if r.status in ("open", "supported")]
    held = [r for r in rivals if (r.guarded and r.status != "excluded") or r.status == "supported"]
    return Element(
        name="cause", question="Did the departure lead to the damage, in that order, and what else could have?",
        shown=tuple(shown), missing=tuple(missing),
        complete=bool(link and effect) and order.answer == "met" and not held,
    )  # fmt: skip


def _loss(holdings: Holdings) -> Element:
    items = holdings.dossier.of(LossItem)
    shown = tuple(Point(text=i.value.summary(), records=(i.label,)) for i in items)
    missing = [f"a paper for {i.label} ({i.value.text})" for i in items if i.value.needs_paper and not i.value.exhibits]
    return Element(
        name="loss", question="What did it cost, and by which paper?", shown=shown,
        missing=tuple(missing) if items else ("no loss item is on record",), complete=bool(items) and not missing,
    )  # fmt: skip


def _custody(holdings: Holdings) -> Element:
    dossier = holdings.dossier
    shown: list[Point] = []
    missing: list[str] = []
    letters = dossier.of(Correspondence)
    for about, wanted in (
        ("notice", "notice to the prior repairer"),
        ("inspection_opportunity", "an offer to the prior repairer to inspect"),
    ):
        sent = tuple(c.label for c in letters if c.value.about == about)
        if sent:
            shown.append(Point(text=f"{say(about)} sent", records=sent))
        else:
            missing.append(wanted)
    if transfers := dossier.of(CustodyTransfer):
        shown.append(Point(text=f"{len(transfers)} hand-overs recorded", records=tuple(t.label for t in transfers)))
    else:
        missing.append("a custody record of the vehicle and of the parts kept")
    if kept := [e for e in dossier.of(Exhibit) if e.value.form == "physical" and e.value.retained]:
        shown.append(Point(text="parts retained", records=tuple(e.label for e in kept)))
    else:
        missing.append("a retained part as physical exhibit")
    allowed = tuple(c.label for c in dossier.of(Consent) if c.value.granted)
    if allowed:
        shown.append(Point(text="consents of the owner", records=allowed))
    else:
        missing.append("the owner's consent to diagnose")
    needed = [m for m in missing if "retained part" not in m]
    return Element(
        name="custody and notice", question="Can the other side check it?", shown=tuple(shown), missing=tuple(missing),
        complete=not needed,
    )  # fmt: skip
