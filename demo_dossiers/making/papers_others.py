"""Papers of the seized engine and of the wet footwell."""

from __future__ import annotations

from pathlib import Path

from making.paper import Sheet
from making.story import ENGINE_VIN, FOOTWELL_VIN

CAR = [("vehicle", "four-door car C4, petrol 1.8"), ("plate", "KTL 2096"), ("VIN", ENGINE_VIN)]
QUICK = ("Brindlefork Quick Oil", "700 Mill Race Road, Brindlefork")
SHOP = ("Varnholt Bend Engine Shop", "18 Depot Street, Varnholt Bend")


def engine(folder: Path) -> None:
    """Invoice of the oil change, the owner's own receipt, tow ticket, declaration, estimate."""
    s = Sheet(*QUICK, "Invoice 30577", accent="#7a3b2e", letter=True)
    s.facts(
        [
            ("customer", "Osric Haldane"),
            *CAR,
            ("date", "March 16, 2026"),
            ("odometer in", "61 180 mi"),
            ("odometer out", "61 180 mi"),
            ("technician", "bay 2"),
        ]
    )
    s.table(["work", "number", "USD"], [
        ["Oil and filter change, plug tightened, level checked", "", "24.00"], ["Oil 5W-30, 4.8 qt", "SY-530", "28.80"],
        ["Oil filter", "HF-2210", "9.20"], ["Drain plug washer", "DW-14", "1.50"], ["subtotal", "", "63.50"], ["sales tax 6 % on parts 39.50", "", "2.37"], ["total, paid", "", "65.87"],
    ], [100, 28, 24], right=(2,), total=1)  # fmt: skip
    s.save(folder / "prior-invoice.pdf")
    s = Sheet("Thistlewren Auto Parts", "44 Thistlewren Plaza", "Sales slip 118-2207", accent="#4c5a2c", letter=True)
    s.facts([("date", "April 11, 2026, 3:41 pm"), ("paid", "card ending 0000")])
    s.table(["article", "number", "USD"], [["Oil filter", "OF-7731, lot 2608", "7.49"], ["Oil 5W-30, 5 qt jug", "SY-530J", "26.99"], ["sales tax 6 %", "", "2.07"], ["total", "", "36.55"]],
            [90, 44, 22], right=(2,), total=1)  # fmt: skip
    s.save(folder / "owner-filter-receipt.pdf")
    s = Sheet("Pellwick Gulch Towing", "County Road 9", "Tow ticket 6640", accent="#5b4a7d", letter=True)
    s.facts(
        [
            ("date", "April 24, 2026"),
            ("picked up", "Route 30 mile 88, 5:20 pm"),
            ("yard", "April 24 to 27, 2026, open lot"),
            ("delivered", "Varnholt Bend Engine Shop, April 27, 9:05 am"),
            *CAR,
        ]
    )
    s.text(
        "Engine oily underneath. Pressure-washed in the yard before delivery so it would not drip on the shop floor. Plug was loose in the tray, put in a bag."
    )
    s.signed("R. Dunmore, driver")
    s.save(folder / "tow-ticket.pdf")
    s = Sheet(*SHOP, "Owner's declaration", letter=True)
    s.facts(
        [
            ("given by", "Osric Haldane"),
            ("taken by", "Perrin Ashlock"),
            ("date and time", "April 27, 2026, 9:25 am"),
            *CAR,
        ]
    )
    s.table(["asked", "answer"], [
        ["Own work since the oil change", "On Sunday April 12 I put on a new filter and topped up, because there was a drip. I do not remember whether I touched the plug."],
        ["First sign", "April 24, about 5 pm: red lamp, then a knock, then it stopped."], ["Driven on after the lamp", "Maybe four miles, to the next exit."],
        ["Other repairers", "None."], ["Jump start", "None."],
    ], [40, 120])  # fmt: skip
    s.signed("Osric Haldane, owner", "Perrin Ashlock, taken by")
    s.save(folder / "owner-declaration.pdf")
    s = Sheet(*SHOP, "Estimate CB-2214", letter=True)
    s.facts([("customer", "Osric Haldane"), *CAR, ("date", "April 30, 2026")])
    s.table(["line", "basis", "USD"], [
        ["Rebuilt engine, exchange", "1", "3 150.00"], ["Gaskets and fluids", "", "240.00"], ["sales tax 6 % on 3 390.00", "", "203.40"], ["Labor", "16 h x 118.00", "1 888.00"],
        ["Diagnosis and teardown", "3 h x 118.00", "354.00"], ["Towing, as billed", "", "165.00"], ["total, estimated", "", "6 000.40"],
    ], [90, 34, 24], right=(2,), total=1)  # fmt: skip
    s.save(folder / "estimate.pdf")


def footwell(folder: Path) -> None:
    """The work order of the windscreen, and the message that is the complaint."""
    s = Sheet("Quellbrink Glasdienst", "Am Speicher 12, Wellbrink (invented)", "Work order QG-1183", accent="#2b4c7e")
    s.facts([("customer", "Jana Brückmann"), ("vehicle", "hatchback H5, petrol 1.2"), ("plate", "WBR DB 718"), ("VIN", FOOTWELL_VIN), ("opened", "17 August 2026, 08:30"),
             ("closed", "17 August 2026, 11:45"), ("odometer in", "37 702 km"), ("odometer out", "37 702 km")])  # fmt: skip
    s.head("Customer states").text("Stone chip with crack, driver's side. No water inside, no wind noise.")
    s.table(["work", "EUR"], [
        ["Windscreen replaced, primer and bead, labour", "248.00"], ["Windscreen, copy glass, WS-H5-03", "214.00"], ["Adhesive set PU-2", "38.00"], ["tax 19 % (rate of this demonstration)", "95.00"],
        ["total, paid by insurer", "595.00"],
    ], [120, 26], right=(1,), total=1)  # fmt: skip
    s.text("Do not wash for 24 hours. Ready to drive after 60 minutes.")
    s.save(folder / "windscreen-order.pdf")
    s = Sheet(
        "Message, as received",
        "Dachs and Daughter Body Repairs, Wellbrink (invented)",
        "Message from Jana Brückmann",
        accent="#5b4a7d",
    )
    s.facts([("received", "28 September 2026, 07:14"), ("attached", "one picture")])
    s.text("Good morning, the carpet on the passenger side is soaking wet after the rain at the weekend, water stands in it. Since the new windscreen "
           "in August there is also a whistle at 100. Can you look at it? I have not lifted anything and nobody else was at it. Picture attached.")  # fmt: skip
    s.save(folder / "message.pdf")
