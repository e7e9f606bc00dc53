"""Each mistake of the catalogue is raised on a record made for it, and is silent when just that is mended."""

from __future__ import annotations

import pytest
from evidence.claim.mistakes.made import ASKED, asked, may_need_a_reason, mistakes
from evidence.model.despite import MISTAKE_CODES, Despite
from evidence.rules.mistakes import MISTAKES
from pydantic import ValidationError

from build import Case, coil_case, shown_case

NOTICE = {"sender": "party-1", "receiver": "party-2", "about": "notice", "sent": "2026-05-05", "channel": "letter"}
SHA = {"sha256": "0" * 64, "size": 1, "name": "a.jpg"}
PHOTO = {"media": "photo", "type": "image/jpeg", "reader": "test"}


def made(case: Case, code: str) -> list[str]:
    return [m.label for m in mistakes(case.dossier(), case.assess(firmness=False)) if m.code == code]


def with_record(kind: str, **raw) -> Case:
    case = coil_case()
    case.record(kind, **raw)
    return case


def module(**raw) -> Case:
    return with_record("module_identity", module="engine-control-module", time="2026-05-07", **raw)


def photo(**read) -> Case:
    return with_record("exhibit", caption="eyelet", file=SHA, read={**PHOTO, **read})


def put_right(seen: bool) -> Case:
    case = coil_case()
    if seen:
        case.observe("coil-ground-eyelet", "ground_seat", "off", position="1")
    case.touch("coil-ground-eyelet")
    return case


def let_go(gone: bool) -> Case:
    case = coil_case()
    case.record("exhibit", form="physical", description="old module", shows=["engine-control-module"])
    fate = {"fate": "returned_as_core"} if gone else {}
    case.record(
        "custody_transfer", item="exhibit-2", released_by="party-1", received_by="party-2", time="2026-05-09", place="counter",
        purpose="handed over", **fate,
    )  # fmt: skip
    return case


def cleared(scanned: bool) -> Case:
    case = coil_case()
    if scanned:
        modules = [{"module": "engine-control-module", "result": "none_stored"}]
        case.record("code_scan", modules=modules, before_clearing=True, time="2026-05-05")
    case.touch("engine-control-module", "codes_cleared")
    return case


def reference(held: bool) -> Case:
    case = photo(captured={"given": "2026-05-05 10:00"}, device="a camera")
    if held:
        case.record("clock_reference", device="a camera", clock_showed="2026-05-05 10:00", true_time="2026-05-05T09:00:00Z",
                    uncertainty="1 s", source="network_time")  # fmt: skip
    return case


def told_first(told: bool) -> Case:
    case = coil_case()
    if told:
        case.record("correspondence", **NOTICE)
    case.touch("engine", "opened")
    return case


def two_changes(tested: bool) -> Case:
    case = coil_case()
    first = case.touch("coil-ground-eyelet")
    if tested:
        case.measure("voltage", "battery", "12.6", "V", after=first, conditions=["key-on"], time="2026-05-06 09:30")
    case.touch("engine-control-module", "replaced", "2026-05-06 11:00")
    return case


def custody(received_by: str) -> Case:
    case = coil_case()
    for giver, taker, day in (("party-2", received_by, "08"), ("party-1", "party-3", "09")):
        case.record("custody_transfer", item="vehicle-1", released_by=giver, received_by=taker, time=f"2026-05-{day}", place="yard",
                    purpose="handed over")  # fmt: skip
    return case


def rivals(tested: bool) -> Case:
    """The owner's own work is tested by his declaration."""
    return shown_case() if tested else shown_case().drop("owner_declaration-1")


def demand(**party) -> Case:
    case = coil_case()
    case.record("party", full_name="Old Mill", roles=["prior_repairer"], **party)
    case.record("correspondence", **{**NOTICE, "about": "demand_letter", "receiver": "party-4"})
    return case


def odometer(prior: str | None, now: bool = True) -> Case:
    case = coil_case(odometer_in=prior, odometer_out=prior) if prior else coil_case(odometer_in="61000 km")
    if not prior:
        case = case.change("work_order-1", odometer_in=None, odometer_out=None)
    if now:
        case.record("odometer_reading", reading="61044 km", time="2026-05-05", basis="seen")
    return case


def drops(count: int) -> Case:
    case = coil_case()
    case.drops(count=count)
    return case


def declared(before: bool) -> Case:
    case = coil_case()
    case.declare()
    return case.change("owner_declaration-1", before_findings_shown=before)


def order(**amounts) -> Case:
    lines = [{"text": "module", **amounts}, {"text": "eyelet", **amounts}]
    return with_record("work_order", side="present_repairer", repairer="party-1", operations=lines, total="840.00 EUR")


LETTER = {**NOTICE, "about": "response"}
ITEM = {"head": "hire", "nature": "incidental", "text": "hire car", "amount": "90.00 EUR", "status": "paid"}
OPINION = {
    "by": "party-1",
    "time": "2026-05-09",
    "text": "as shown",
    "basis": ["work_order-1"],
    "qualification": "technician",
}
DUE = {"what": "limitation", "day": "2026-05-01", "text": "last day to claim", "source": "a lawyer's letter"}
EVENT = {"what": "other", "text": "it ran hot", "time": "2026-05-03", "basis": "told", "by": "party-2"}
READING = {"quantity": "voltage", "of": "battery", "value": "12.6", "unit": "V"}

TWINS = {
    "put_right_unseen": (lambda: put_right(False), lambda: put_right(True)),
    "part_let_go": (lambda: let_go(True), lambda: let_go(False)),
    "codes_cleared": (lambda: cleared(False), lambda: cleared(True)),
    "no_time_base": (lambda: reference(False), lambda: reference(True)),
    "no_odometer": (lambda: odometer(None), lambda: odometer("61000 km")),
    "instrument_unproven": (
        lambda: with_record("measurement", **READING, conditions=["key-on"]),
        lambda: with_record("measurement", **READING, conditions=["key-on"], instrument="instrument-1"),
    ),
    "reading_unrepeatable": (
        lambda: with_record("measurement", **READING, instrument="instrument-1"),
        lambda: with_record("measurement", **READING, instrument="instrument-1", conditions=["key-on"]),
    ),
    "one_part_only": (lambda: drops(1), lambda: drops(4)),
    "owner_unheard": (lambda: declared(False), lambda: declared(True)),
    "hearsay": (
        lambda: with_record("event", **EVENT).drop("event-1"),
        lambda: with_record("event", **EVENT, exhibits=["exhibit-1"]).drop("event-1"),
    ),
    "no_notice": (lambda: told_first(False), lambda: told_first(True)),
    "harsh_words": (
        lambda: with_record("correspondence", **LETTER, text="Your man botched it."),
        lambda: with_record("correspondence", **LETTER, text="The eyelet lay loose."),
    ),
    "several_changes": (lambda: two_changes(False), lambda: two_changes(True)),
    "uncoded_module": (
        lambda: module(which="coded_replacement", coding="unknown"),
        lambda: module(which="coded_replacement", coding="coded"),
    ),
    "picture_stripped": (photo, lambda: photo(captured={"given": "2026-05-05 10:00"})),
    "picture_altered": (
        lambda: photo(captured={"given": "2026-05-05T10:00:00Z"}, changed={"given": "2026-05-06T10:00:00Z"}),
        lambda: photo(captured={"given": "2026-05-05T10:00:00Z"}, changed={"given": "2026-05-05T10:00:00Z"}),
    ),
    "custody_gap": (lambda: custody("party-3").drop("exhibit-1"), lambda: custody("party-1").drop("exhibit-1")),
    "driven_on": (
        lambda: with_record("event", **{**EVENT, "what": "driven_on"}),
        lambda: with_record("event", **{**EVENT, "what": "stop"}),
    ),
    "cost_unexplained": (
        lambda: with_record("loss_item", **ITEM),
        lambda: with_record("loss_item", **ITEM, why="until they had looked"),
    ),
    "one_lump_sum": (order, lambda: order(amount="420.00 EUR")),
    "rivals_untested": (lambda: rivals(False), lambda: rivals(True)),
    "interest_unstated": (
        lambda: with_record("opinion", **OPINION, interest="none"),
        lambda: with_record("opinion", **OPINION, interest="is paid for the repair"),
    ),
    "day_missed": (lambda: with_record("due_date", **DUE), lambda: with_record("due_date", **DUE, done="2026-04-30")),
    "private_data": (
        lambda: with_record("party", full_name="Cy Rook", roles=["witness"], contact="0123"),
        lambda: with_record("party", full_name="Cy Rook", roles=["witness"]),
    ),
    "talk_among_evidence": (
        lambda: with_record("correspondence", **LETTER, text="They offered to pay half."),
        lambda: with_record("correspondence", **LETTER, text="They asked for the pictures."),
    ),
    "wrong_respondent": (lambda: demand(address="1 Mill"), lambda: demand(address="1 Mill", legal_name="Old Mill Ltd")),
}  # fmt: skip


@pytest.mark.parametrize("code", MISTAKE_CODES)
def test_each_is_raised_and_silent_once_mended(code):
    wrong, mended = TWINS[code]
    assert made(wrong(), code)
    assert not made(mended(), code)


@pytest.mark.parametrize(
    "text",
    ["Su taller es una estafa.", "Fue una chapuza.", "Ustedes mienten.", "Son unos sinvergüenzas.", "Ustedes tienen la culpa.", "Usted es culpable."],
)
def test_harsh_words_are_found_in_spanish_too(text):
    assert made(with_record("correspondence", **LETTER, text=text), "harsh_words")


def test_a_crooked_part_is_no_crook():
    assert not made(with_record("correspondence", **LETTER, text="The encoder was pressed in crooked."), "harsh_words")
    assert made(with_record("correspondence", **LETTER, text="You crooks."), "harsh_words")


@pytest.mark.parametrize(
    "text",
    ["Nos ofrecieron pagar la mitad.", "Están dispuestos a llegar a un acuerdo.", "Proponemos partir la diferencia.", "Como gesto comercial pagan la grúa."],
)
def test_talk_about_settling_is_found_in_spanish_too(text):
    assert made(with_record("correspondence", **LETTER, text=text), "talk_among_evidence")


@pytest.mark.parametrize(
    "text",
    [
        "El terminal estaba flojo; la tuerca, apretada a mano.", "Sin perjuicio de lo dicho, pueden ver el vehículo el lunes.",
        "Pagamos con tarjeta; guarden la orden y las fotos.", "Se rompió a medio camino de Salinas.", "La puerta fue forzada durante un robo.",
    ],
)
def test_plain_spanish_is_neither_harsh_nor_talk(text):
    case = with_record("correspondence", **LETTER, text=text)
    assert not made(case, "harsh_words")
    assert not made(case, "talk_among_evidence")


def test_an_interest_denied_in_spanish_is_none_stated():
    assert made(with_record("opinion", **OPINION, interest="Ninguno"), "interest_unstated")


def test_the_catalogue_has_the_26_each_with_its_words():
    assert len(MISTAKES) == 26
    assert set(TWINS) == set(MISTAKES)
    for kind in MISTAKES.values():
        for text in (kind.why, kind.mend, kind.guard):
            assert text.endswith((".", ")")), kind.code


def test_a_reason_is_kept_with_the_step_and_only_for_its_own_mistake():
    case = coil_case()
    case.touch("coil-ground-eyelet", despite=["no-notice: the owner could not wait"])
    by_code = {
        m.code: m.despite for m in mistakes(case.dossier(), case.assess(firmness=False)) if m.label == "Intervention 1"
    }
    assert by_code == {"put_right_unseen": "", "no_notice": "the owner could not wait"}


def test_what_is_asked_about_is_asked_for_the_step_alone():
    case = coil_case()
    first = case.touch("coil-ground-eyelet")
    second = case.touch("coil-ground", "cleaned", "2026-05-07 10:00")
    assert {m.code for m in asked(case.dossier(), {second})} == {"put_right_unseen", "no_notice", "several_changes"}
    assert {m.subject for m in asked(case.dossier(), {first})} == {first}
    assert set(ASKED) < set(MISTAKE_CODES)
    held = case.dossier()
    assert may_need_a_reason(held.by_subject[first].value)
    assert not may_need_a_reason(held.by_subject["party-1"].value)


def test_putting_back_what_the_shop_itself_took_off_is_no_mistake():
    case = coil_case()
    case.touch("spark-plug", "removed", "2026-05-06 08:00")
    case.touch("spark-plug", "refitted", "2026-05-06 09:00")
    assert made(case, "put_right_unseen") == made(case, "no_notice") == []


def test_work_of_others_and_undisputed_work_is_not_asked_about():
    case = coil_case()
    case.record("intervention", action="refitted", components=["coil-ground-eyelet"], by="party-3", time="2026-05-06")
    assert made(case, "put_right_unseen") == []
    undisputed = put_right(False).drop("work_order-1")
    assert made(undisputed, "put_right_unseen") == made(undisputed, "no_notice") == []


def test_a_step_that_says_the_untouched_record_is_complete_is_enough():
    case = coil_case()
    case.record("course_step", stage="undisturbed_record", time="2026-05-05", by="party-1")
    case.touch("coil-ground-eyelet")
    assert made(case, "put_right_unseen") == []


@pytest.mark.parametrize("text", ["no_notice", "no_notice:", "no_notise: because", ": because"])
def test_a_reason_without_code_or_words_is_refused(text):
    with pytest.raises(ValidationError):
        Despite.model_validate(text)


def test_a_module_written_to_without_a_read_out_is_the_same_mistake():
    """Common practice, no source: flashing wipes codes and freeze frames."""
    case = coil_case()
    case.touch("engine-control-module", "programmed")
    assert made(case, "codes_cleared") == ["Intervention 1"]
    modules = [{"module": "engine-control-module", "result": "none_stored"}]
    case.record("code_scan", modules=modules, before_clearing=True, time="2026-05-05")
    assert not made(case, "codes_cleared")
