"""A dossier with every kind of record, in memory, and a report input around it. All of it is invented."""

import datetime as dt
import hashlib
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from evidence.model.dossier import Step, fold
from evidence.model.kinds import KINDS
from evidence.report.given import Integrity, ReportInput
from evidence.rules.assessment import (
    AlternativeResult,
    Assessment,
    Candidate,
    Ceiling,
    Change,
    Contradiction,
    Element,
    Experiment,
    Fall,
    FindingResult,
    LimbWeight,
    Near,
    OrderInTime,
    PackUsed,
    Pair,
    PlanStep,
    Point,
    Versus,
    Weight,
)
from evidence.rules.capture_plan import AskedBy, CapturePlan, CaptureStep, Explanation, Warned

START = dt.datetime(2026, 3, 12, 8, 0, tzinfo=dt.UTC)
ZONE = "Europe/Lisbon"


@dataclass
class Curve:
    name: str
    low: list
    high: list


@dataclass
class Trace:
    times: list
    channels: list
    rows: int
    bad_rows: int


@dataclass
class Book:
    """Collects entries; ``record`` returns the subject."""

    steps: list = field(default_factory=list)
    recorder: str = "party-1"

    def _step(self, action, kind, subject, body=None, reason="", via="test"):
        seq = len(self.steps) + 1
        at = START + dt.timedelta(minutes=seq)
        self.steps.append(
            Step(seq=seq, kind=kind, subject=subject, action=action, recorded_at=at, recorded_by=self.recorder, via=via, reason=reason, body=body)
        )
        return subject

    def record(self, kind, **raw):
        number = sum(s.kind == kind and s.action == "record" for s in self.steps) + 1
        body = KINDS[kind].handed_in(raw, {"zone": ZONE}).body()
        return self._step("record", kind, f"{kind}-{number}", body)

    def exhibit(self, digest=None, name="photo.jpg", size=1234, read=None, **raw):
        number = sum(s.kind == "exhibit" and s.action == "record" for s in self.steps) + 1
        digest = digest or hashlib.sha256(f"{number}".encode()).hexdigest()
        whole = {**raw, "file": {"sha256": digest, "size": size, "name": name}, "read": read or {"media": "photo", "type": "image/jpeg", "reader": "test 1"}}
        return self._step("record", "exhibit", f"exhibit-{number}", KINDS["exhibit"].stored({k: v for k, v in whole.items() if v is not None}).body())

    def amend(self, subject, reason, **changes):
        newest = [s for s in self.steps if s.subject == subject][-1]
        body = KINDS[newest.kind].amended({**newest.body, **changes}, {"zone": ZONE}).body()
        return self._step("amend", newest.kind, subject, body, reason)

    def withdraw(self, subject, reason):
        kind = next(s.kind for s in self.steps if s.subject == subject)
        return self._step("withdraw", kind, subject, None, reason)

    def dossier(self):
        return fold("test-ledger", self.steps)


def small_book():
    """An opening and one party, nothing else."""
    book = Book()
    book.record("party", full_name="Marta Quill")
    book.record("dossier", title="A van that does not start")
    return book


def rich_book():
    """Every kind of record at least once, with an amendment and a withdrawal."""
    book = Book()
    shop = book.record("party", full_name="Marta Quill", firm="Quill Autodiagnose", roles=["present_repairer", "technician"],
                       qualification="Vehicle electrician, 14 years", interest="Is paid for the diagnosis whatever it shows",
                       address="3 Harbour Row\nSampleton", contact="+351 000 000 000")
    owner = book.record("party", full_name="Ελένη Παπαδοπούλου", roles=["owner", "driver"], interest="Bears the cost")
    prior = book.record("party", full_name="Юлія Шевченко", firm="Works at Mill Lane", roles=["prior_repairer"])
    adjuster = book.record("party", full_name="Jürgen Ñandú Ćwikła", roles=["adjuster"])
    book.record("dossier", title="Delivery van: cranks and does not start after a head-gasket job", zone=ZONE, demonstration=True,
                complaint="It ran for two days, then it cut out at the lights and now it only turns over.",
                complaint_tags=["no-start"], claimed_damage=["engine control module"])
    vehicle = book.record("vehicle", description="Delivery van, 4 cylinders, petrol", plate="00-XX-00", vin="WVWZZZ1JZ3W386752", engine="1.6 l",
                          build_date="2019-05", counts={"coil": 4, "cylinder": 4}, owner=owner)
    photos = [
        book.exhibit(name=f"IMG_{n:04}.jpg", caption=caption, shows=["coil ground eyelet"], state="undisturbed", view=view,
                     taken={"given": f"2026-03-10 09:{10 + n}", "earliest": f"2026-03-10T09:{10 + n}:00Z", "latest": f"2026-03-10T09:{11 + n}:00Z", "zone": ZONE, "source": "device_clock"},
                     taken_by=shop, device="shop camera 1", place="bay 2",
                     read={"media": "photo", "type": "image/jpeg", "reader": "test 1", "device": "camera of the shop", "notes": ["no time zone in the file"],
                           "captured": {"given": "2026-03-10 09:11:05", "earliest": "2026-03-09T19:11:05Z", "latest": "2026-03-10T21:11:06Z"},
                           "place": {"latitude": "38.70", "longitude": "-9.10"}})
        for n, (caption, view) in enumerate([("Engine bay before anything was touched", "overview"), ("Coil rail, ground side", "middle"), ("Ground eyelet clamped on fresh paint, with scale", "close")])
    ]
    invoice = book.exhibit(name="invoice-4711.pdf", caption="Invoice of the prior repairer", read={"media": "document", "type": "application/pdf", "reader": "test 1", "pages": 1, "notes": ["no preview: not made"]})
    trace_file = book.exhibit(name="cranking.csv", caption="Trace while cranking", read={"media": "waveform", "type": "text/csv", "reader": "test 1", "rows": 2000, "columns": ["t", "ch1", "ch2"]})
    crop = book.exhibit(name="crop\u202egnp.jpg", caption="Detail of the eyelet", derived_from=photos[2], operations=["cropped to 900 × 700", "arrow added"])
    wrong = book.exhibit(name="IMG_9999.jpg", caption="Another vehicle")
    module_part = book.record("exhibit", form="physical", description="Engine control module, removed", serial="S-100-22", container="Antistatic bag 4", seal="0042", location="Shelf C3", retained=True)
    meter = book.record("instrument", description="Digital multimeter", serial="MM-7781", calibrated="2025-11-20", calibration_due="2026-11-20", calibration_document="K-2025-118",
                        checked_against="reference 5.000 V, 2026-03-10", software="1.8", owner=shop,
                        accuracies=[{"quantity": "voltage", "unit": "V", "high": "6", "percent": "0.5", "fixed": "0.002", "resolution": "0.001"}])
    book.record("clock_reference", device="shop camera 1", clock_showed="2026-03-10 09:12:31", true_time="2026-03-10 09:11:00Z", uncertainty="2 s", source="radio_time", source_text="Radio clock over the bench", by=shop)
    book.record("maker_figure", figure="ground-drop-max", value="0.2", unit="V", document="Electrical test 12-04", page="p. 3", valid_on="2025-06")
    call = book.record("call_note", caller=owner, taken_by=shop, time="2026-03-09 08:40", words="It only turns over. They had the head off last week.", last_work="head gasket, Mill Lane", attempts="two long tries, no jump start", advice_given="do not try any more; keep all papers")
    book.record("consent", given_by=owner, given_to=shop, to="diagnose", granted=True, limit="300.00 EUR", channel="signed_paper", time="2026-03-09 17:10")
    book.record("consent", given_by=owner, given_to=shop, to="share_data", granted=False, channel="telephone", time="2026-03-09 17:15", scope="not to the insurer yet")
    book.record("owner_declaration", given_by=owner, taken_by=shop, time="2026-03-09 17:20", before_findings_shown=True, signed=True,
                statements=[{"topic": "own_work", "answer": "none"}, {"topic": "accessory", "answer": "some", "components": ["trailer socket"], "text": "Had a trailer socket wired in.", "time": "2026-02"}, {"topic": "driven_on", "answer": "unknown"}])
    first = book.record("work_order", side="prior_repairer", number="4711", repairer=prior, opened="2026-03-02", closed="2026-03-05", odometer_in="128400 km", odometer_out="128412 km",
                        complaint="Loses coolant", cause="Head gasket", correction="Gasket renewed", operations=[{"text": "Remove and refit cylinder head", "hours": "9.5", "amount": "712.50 EUR", "components": ["coil rail"]}, {"text": "Renew gasket set"}],
                        parts=[{"text": "Gasket set", "number": "G-100", "quantity": 1, "origin": "other_new", "amount": "146.00 EUR", "old_part": "scrapped"}], total="1056.20 EUR", tax="197.70 EUR", exhibits=[invoice])
    book.record("work_order", side="owner", repairer=owner, closed="2026-02-20", operations=[{"text": "Trailer socket wired in"}])
    present = book.record("work_order", side="present_repairer", number="88", repairer=shop, opened="2026-03-09", operations=[{"text": "Diagnosis", "hours": "2.0"}])
    book.record("odometer_reading", reading="128460 km", time="2026-03-09 17:00", basis="photographed", by=shop, exhibits=[photos[0]])
    change = book.record("intervention", action="refitted", components=["coil ground eyelet"], by=shop, time="2026-03-11 10:05", text="Eyelet moved to bare metal", work_order=present, exhibits=[photos[2]])
    left = book.record("event", what="departure_made", text="Ground eyelet clamped on fresh paint", time="2026-03-02 / 2026-03-05", basis="inferred", caused_by=[first], components=["coil ground eyelet"])
    burnt = book.record("event", what="damage_done", text="Coil drivers in the module burnt", time="2026-03-05 / 2026-03-07", basis="inferred", caused_by=[left])
    onset = book.record("event", what="onset", text="Cut out at the lights and would not start again", time="2026-03-07 18:20", basis="told", by=owner, caused_by=[burnt], odometer="128455 km")
    book.record("event", what="tow", text="Towed to the shop", time="2026-03-09", basis="document", caused_by=[onset])
    book.record("code_scan", before_clearing=True, all_modules=True, state="undisturbed", time="2026-03-10 09:40", by=shop,
                modules=[{"module": "engine control module", "result": "codes", "codes": [{"code": "P0351", "status": ["confirmed", "test_failed"], "text": "Ignition coil A primary control circuit"}]}, {"module": "body module", "result": "none_stored"}, {"module": "radio", "result": "no_communication"}])
    book.record("module_identity", module="engine control module", which="original", part_number="ECM-55-01", software="A12", coding="coded", vin_stored="WVWZZZ1JZ3W386752", time="2026-03-10 09:45", by=shop)
    seen = book.record("observation", of="coil ground eyelet", aspect="seat", seen="on-paint", text="Eyelet sits on fresh paint, bolt finger tight, no bare metal under it.", state="undisturbed", time="2026-03-10 09:15", by=shop, exhibits=photos)
    drop = book.record("measurement", quantity="voltage_drop", value="0.240", unit="V", of="coil ground eyelet", to="battery negative", conditions=["key-on", "loaded"], circumstances={"current": "2.1 A"}, state="undisturbed",
                       time="2026-03-10 09:50", by=shop, instrument=meter, exhibits=[photos[1]], limit={"op": ">", "value": "0.2", "unit": "V", "source": "maker", "document": "Electrical test 12-04, p. 3"}, repeats=["0.241", "0.239"])
    book.record("measurement", quantity="voltage_drop", value="0.018", unit="V", of="coil ground eyelet", to="battery negative", conditions=["key-on", "loaded"], state="after_repair", after=change, time="2026-03-11 10:20", by=shop, instrument=meter, limit="> 0.2 V")
    book.record("measurement", quantity="insulation_resistance", value="10", unit="MΩ", beyond_range="above", of="coil rail", time="2026-03-11", by=shop)
    book.record("actuator_test", of="coil", position="1", commanded="ten sparks on bench", response="no_response", state="disturbed", time="2026-03-11 11:00", by=shop, text="No spark, no current")
    book.record("waveform", trace=trace_file, title="Coil control while cranking", time_column="t", time_unit="ms", time="2026-03-10 10:02", by=shop, state="undisturbed", conditions=["cranking"],
                channels=[{"column": "ch1", "quantity": "voltage", "unit": "V", "of": "coil control", "position": "1"}, {"column": "ch2", "quantity": "current", "unit": "A", "of": "starter", "scale": "100"}],
                features=[{"feature": "pulses_per_cycle", "value": "0", "unit": "count", "of": "coil control", "read_by": "Marta Quill"}, {"feature": "peak_current", "value": "182", "unit": "A", "uncertainty": "4", "of": "starter", "read_by": "program 0.1"}])
    book.record("custody_transfer", item=vehicle, released_by=owner, received_by=shop, time="2026-03-09 16:55", place="Yard of the shop", purpose="diagnosis", condition="scratch on left door", odometer="128460 km", both_signed=True)
    book.record("custody_transfer", item=module_part, released_by=shop, received_by=adjuster, time="2026-03-20", place="Shop counter", purpose="inspection", container="Antistatic bag 4", seal="0042", both_signed=False)
    letter = book.record("correspondence", sender=shop, receiver=prior, about="notice", sent="2026-03-11", received="2026-03-13", channel="registered_letter", text="Found so far, dates offered for inspection, request to keep records.")
    book.record("correspondence", sender=prior, receiver=shop, about="response", sent="2026-03-16", channel="message", text="We deny any connection.", answers=letter)
    for nature, head, text, sum_, status in [("rework", "rework_cost", "Ground refitted", "95.00 EUR", "invoiced"), ("resulting_damage", "repair_parts", "Engine control module", "840.10 EUR", "quoted"), ("resulting_damage", "programming", "Coding of the module", "120.05 EUR", "quoted"),
                                             ("diagnosis", "diagnosis_fee", "Two hours", "150.00 EUR", "paid"), ("incidental", "towing", "Tow, 12 km", "90.00 EUR", "paid"), ("incidental", "hire", "Hire van, 3 days", "210.00 EUR", "estimated"), ("deduction", "betterment", "Worn battery", "30.00 EUR", "estimated")]:
        book.record("loss_item", nature=nature, head=head, text=text, amount=sum_, status=status, basis="2 h × 75.00" if head == "diagnosis_fee" else "invoice", disputed=head == "hire")
    book.record("course_step", stage="notice", time="2026-03-11", by=shop, text="Notice sent by registered letter", about=[letter], skips=["intake: brought in by the owner himself", "undisturbed_record: taken down by the driver's photos"], exhibits=photos[:1])
    book.record("due_date", what="limitation", day="2028-03-05", text="Last day to file", source="Act of the place, section 9", read_on="2026-03-12", by=owner)
    book.record("opinion", by=shop, time="2026-03-12", text="The raised ground fits the burnt drivers better than an unrelated failure.", basis=[seen, drop], qualification="Vehicle electrician", interest="Paid for the diagnosis", limits="Module not opened", second_reader=adjuster)
    book.record("binding", by=shop, time="2026-03-12", record=seen, mechanism="coil-ground-left", finding="F1", binds=True, reason="The eyelet named there is the one photographed")
    book.record("resolution", by=shop, time="2026-03-12", mechanism="coil-ground-left", about="contradiction", finding="F4", records=[drop], text="The first reading was taken before the battery was charged.")
    book.record("time_relation", what=seen, relation="before", other=drop, least="1 min", text="Seen first, then read", basis="seen", by=shop)
    book.record("outcome", result="part_paid", time="2026-04-02", by=adjuster, amount="600.00 EUR", reasons="Module paid, hire not")
    book.record("review_mark", by=adjuster, time="2026-03-21", on="finding", mechanism="coil-ground-left", name_of="F4", mark="questioned", text="Which cylinder is the second channel?")
    book.record("review_answer", by=shop, time="2026-03-22", review="aeaqcaibaeaqcaibaeaqcaibae", mark="1", text="Cylinder 1; see the channel list.", records=[drop])
    book.amend(drop, "Conditions were incomplete", conditions=["key-on", "loaded", "connected"])
    book.withdraw(wrong, "Taken of another vehicle")
    assert {s.kind for s in book.steps} == set(KINDS), set(KINDS) - {s.kind for s in book.steps}
    assert all([call, crop])
    return book


def finding(number, limb, words, statement, answer, records=(), **more):
    values = {
        "id": number, "limb": limb, "limb_words": words, "kind": "measurement", "statement": statement, "answer": answer, "records": tuple(records), "coverage": "", "near": (), "reasons": ("The record answers this.",),
        "if_true": "certain", "if_not": "unlikely", "ratio": Fraction(49, 5) if answer == "met" else None, "ratio_low": Fraction(6) if answer == "met" else None, "ratio_high": Fraction(49, 5) if answer == "met" else None, "separates": True, "weighs": answer == "met", "low_answer": answer, "alters": False, "branch": "", "test": "", "undisturbed": answer == "met", "word": (),
    }
    return FindingResult(**{**values, **more})


def candidate(title="Coil ground not refitted on bare metal after cylinder-head work", band="moderate support"):
    findings = (
        finding("F1", "D", "departure", "The ground eyelet of the coil rail is off, loose, or on an insulated seat", "met", ["Observation 1", "Exhibit 1", "Exhibit 3"], word=(Point(text="Bound by Marta Quill", records=("Binding 1",)),)),
        finding("F2", "D", "departure", "Voltage drop from coil ground to battery negative above 0.2 V at 2 A", "met", ["Measurement 1"], weighs=False, coverage="1 of 1 grounds"),
        finding("F4", "E", "effect", "No control pulse at any coil while cranking", "met", ["Waveform 1"], ratio=Fraction(49, 20), coverage="1 of 4 coils"),
        finding("F5", "L", "link", "Original module dead on the bench, coded replacement live", "not measured", near=(Near(record="Actuator test 1", why="the coil was tested, not the module"),)),
        finding("F6", "L", "link", "Melted trace at the alternative ground path", "not met", ["Observation 1"], ratio=Fraction(5, 8)),
    )
    alternatives = (
        AlternativeResult(id="A1", kind="owner", kind_words="owner's own work", claim="The trailer socket wiring damaged the module", test="Inspect the socket wiring", standing_result="no contact with coil circuits", status="open", by=(), records=("Owner declaration 1",), reasons=("The owner declares a trailer socket in the window.",), guarded=True, general=False, resolved="", needs=("inspect the socket wiring",)),
        AlternativeResult(id="G6", kind="unrelated", kind_words="unrelated failure", claim="The crankshaft speed sensor failed", test="", standing_result="", status="excluded", by=("X1",), records=("Waveform 1",), reasons=("Speed signal present.",), guarded=False, general=True, resolved="", needs=()),
    )
    weight = Weight(
        ratio=Fraction(2401, 100), printed="24.0", capped=False, low=Fraction(6), low_printed="6.0", limbs=(LimbWeight(limb="D", words="departure", present="F1", present_ratio=Fraction(49, 5), absent="", absent_ratio=Fraction(1), product=Fraction(49, 5)), LimbWeight(limb="E", words="effect", present="F4", present_ratio=Fraction(49, 20), absent="", absent_ratio=Fraction(1), product=Fraction(49, 20))),
        scale_words="moderate support", band=band, high=Fraction(2401, 25), high_printed="96.0", wordless=Fraction(6), wordless_printed="6.0", by_word=True, break_even=(Fraction(25, 2426), Fraction(1, 7)), break_even_words="These findings would bring this explanation to even odds for somebody who had given it a chance between 1 in 97 and 14 % before he knew them.", side="mechanism", statement="The findings are about 24 times more to be expected if the ground was left on paint than if the failure arose otherwise: moderate support",
    )
    return Candidate(
        called_by="work and complaint", mechanism="coil-ground-left", title=title, system="ignition", pack="ignition 1", why=(Point(text="Remove and refit cylinder head disturbs the coil rail", records=("Work order 1",)),), departure_code="ground-not-refitted",
        departure="the coil rail's ground is left off, loose or on paint", chain=("ground path raised", "current returns through the module", "output stages overheat", "no spark"), components=("coil ground eyelet",), branch="", findings=findings,
        common=(finding("C1", "opportunity", "opportunity", "Prior work order in hand with date, odometer, lines and parts", "met", ["Work order 1"]), finding("C4", "custody", "custody", "Nobody else worked there in between", "not met", ["Work order 2"]), finding("C7", "standard", "standard of work", "What the maker's document required", "not measured")),
        weight=weight, ceilings=(Ceiling(code="guarded", at="moderate", reason="the owner's own work is not excluded", holds=True), Ceiling(code="link", at="moderate", reason="no link finding is met", holds=False)),
        contradictions=(Contradiction(about="F4", text="Two readings of the drop disagree", records=("Measurement 1",), resolved="The first was taken with a weak battery"), Contradiction(about="record", text="Odometer at arrival is lower than on the tow ticket", records=("Odometer reading 1",), resolved="")),
        alternatives=alternatives, versus=(Versus(mechanism="", title="something not listed", low=Fraction(6), ratio=Fraction(2401, 100), high=Fraction(2401, 25), printed="6.0 to 96.0", words="weak support for this one"), Versus(mechanism="other", title="Speed sensor connector not home", low=Fraction(1, 2), ratio=Fraction(2), high=Fraction(8), printed="1/2.0 to 8.0", words="does not tell the two apart")),
        falls=(Fall(what="Observation 1", text="ground seat: off", band="no support either way"),), changes=(Change(what=("F5",), text="Original module dead on the bench, coded replacement live", of_rival=False, if_met="moderate support", if_not=""), Change(what=("A1",), text="The trailer socket wiring damaged the module", of_rival=True, if_met="", if_not="no statement until resolved")),
        order=OrderInTime(answer="met", sentence="The first sign came 2 to 3 days and 43 km after the prior work was closed.", days=(Decimal(2), Decimal(3)), km=(Decimal(43), Decimal(43)), window="0 to 30 days and 0 to 1500 km", prior_order="Work order 1", onset="Event 3", records=("Event 3",)),
        elements=(Element(name="prior work", question="", shown=(Point(text="invoice in hand", records=("Work order 1",)),), missing=(), complete=True), Element(name="cause", question="", shown=(), missing=("a link finding", "the owner's own work dealt with"), complete=False), Element(name="custody and notice", question="", shown=(Point(text="notice sent", records=("Correspondence 1",)),), missing=("answer to the offer to inspect",), complete=False)),
        plan=(PlanStep(place=1, findings=("F5",), what="Bench test of the original module", how="Supply 12 V, command coil 1, read current", undisturbed=False, alters=False, one_shot=False, waiting="", cautions=(("hot", "Output stages may be hot."),), separates=("A1: owner's own work",), settles="Would show the link, or take it away."), PlanStep(place=2, findings=("F6",), what="Open the module", how="Photograph traces", undisturbed=False, alters=True, one_shot=True, waiting="waits for consent to altering tests", cautions=(), separates=(), settles="")),
        capture_before=(), capture_after=(), retain=("module",), loss_items=("module",), cautions=(("ignition", "Ignition voltages can kill. Keep clear while cranking."),), safety_note="Disconnect the battery by the maker's procedure.", sources=(("practice", "Common practice, no source", "memory"),),
        conclusion="The findings give moderate support to the explanation that the coil ground was left on paint after the head-gasket job",
    )


def planned(*candidates):
    """A capture plan of the candidates' own steps."""
    steps, spent = [], Decimal(0)
    for number, c in enumerate(candidates):
        for step in c.plan:
            spent += 10
            steps.append(CaptureStep(
                place=len(steps) + 1, stage="altering" if step.alters else "untouched" if step.undisturbed else "lasting",
                asked_by=(AskedBy(letter=chr(65 + number), mechanism=c.mechanism, numbers=step.findings),), what=step.what, lines=(), how=step.how,
                read_so_far="", instrument="multimeter", minutes=Decimal(10), minutes_stated=True, running=spent, bits=Decimal("0.3"),
                per_minute=Decimal("0.03"), slight=False, if_met="Points to A.", if_not="Speaks against A.", between="", effect=step.settles,
                one_shot=step.one_shot, alters=step.alters, undisturbed=step.undisturbed, invite=("the owner",) if step.one_shot else (),
                waiting=(step.waiting,) if step.waiting else (), request_only=False, keep=(), cautions=step.cautions,
            ))
    explained = tuple(Explanation(letter=chr(65 + n), mechanism=c.mechanism, title=c.title, share=Decimal("0.5"), band=c.weight.band, settled="") for n, c in enumerate(candidates))
    return CapturePlan(
        explanations=explained, steps=tuple(steps), idle=(), lost=(), warned=(Warned(text="Change one thing at a time.", why="Nobody can say which mattered."),),
        keep=("A: module",), cautions=tuple(dict.fromkeys(x for c in candidates for x in c.cautions)), safety_notes=tuple(f"{c.safety_note} ({chr(65 + n)})" for n, c in enumerate(candidates) if c.safety_note), verdict="What follows can still change what is said.",
        matters=True, minutes=spent, notes=("Minutes are common practice, no source.",),
    )


def assessment(*candidates):
    return Assessment(
        plan=planned(*candidates),
        title="Delivery van", entries=60, packs=(PackUsed(id="ignition", version="1", title="Ignition and engine electrics", mechanisms=4),), candidates=candidates, experiments=(Experiment(interventions=("Intervention 1",), text="refitted: coil ground eyelet", pairs=(Pair(what="voltage drop, coil ground 1 to battery negative, key on", before="4.80 V ± 0.03 V (Measurement 1)", after="0.02 V ± 0.01 V (Measurement 2)", told="changed"),), told=(Point(text="Intervention 1 put right what was wrong, and the effect stays: what was wrong there does not alone explain the effect.", records=("Measurement 1", "Measurement 2")),)),), not_called=(Point(text="Trailer socket wired in", records=("Work order 2",)),),
        scale=(("1", "no support either way"), ("2 to 10", "weak support"), ("10 to 100", "moderate support"), ("100 to 1 000", "moderately strong support"), ("1 000 to 10 000", "strong support")), grades=(("certain", "0.98"), ("expected", "0.80"), ("possible", "0.40"), ("unlikely", "0.10"), ("excluded", "0.02")),
        notes=("Judgement grades stop at strong support.",),
    )


def integrity(dossier):
    root = hashlib.sha256(dossier.ledger.encode())
    return Integrity(origin="evidence-ledger/aeaqcaibaeaqcaibaeaqcaibae", entries=dossier.size, root_hex=root.hexdigest(), root_base64="mock+base64/of=the=root=hash==", head_known=True, programs={"evidence": "0.1.0", "reportlab": "5.1.0", "Pillow": "13.0"}, packs={"ignition": "1"})


def sine(_digest, waveform):
    import math

    times = [n * 0.5 for n in range(400)]
    curves = [
        Curve(c.column, [math.sin(t / 7) * 12 * (i + 1) - 0.4 for t in times], [math.sin(t / 7) * 12 * (i + 1) + 0.9 for t in times])
        for i, c in enumerate(waveform.channels)
    ]
    return Trace(times, curves, rows=40_000, bad_rows=2)


def given(book, *candidates, preview=lambda _: None, original=None, trace=sine, **more):
    dossier = book.dossier()
    return ReportInput(dossier=dossier, assessment=assessment(*candidates), integrity=integrity(dossier), at=dt.datetime(2026, 3, 12, 9, 30, tzinfo=dt.UTC), preview=preview, original=original or preview, trace=trace, **more)
