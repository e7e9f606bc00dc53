"""Papers of the van that does not start."""

from __future__ import annotations

from pathlib import Path

from making.paper import Sheet
from making.story import VAN_VIN

PRIOR = ("Orrinfell Motor Works", "Unit 6, Tannery Yard, Vellbridge   service@orrinfell.example")
SHOP = ("Tamsgate Vehicle Diagnostics", "31 Tamsgate Lane, Vellbridge   desk@tamsgate.example")
VAN = [("vehicle", "delivery van DV-4, petrol 2.0, four cylinders"), ("plate", "7 KB 4413"), ("VIN", VAN_VIN)]


def make(folder: Path) -> None:
    """Write every paper of the dossier."""
    _prior_invoice(folder)
    _owner_receipt(folder)
    _tow_ticket(folder)
    _consents(folder)
    _declaration(folder)
    _manual(folder)
    _calibration(folder)
    _notice(folder)
    _dispatch(folder)
    _answer(folder)
    _shop_invoice(folder)
    _hire(folder)


def _prior_invoice(folder):
    s = Sheet(*PRIOR, "Invoice OMW-2618", accent="#7a3b2e")
    s.facts([("customer", "Marwick Bakery, Della Marwick, 9 Oven Street, Vellbridge"), *VAN, ("opened", "11 May 2026"),
             ("closed", "14 May 2026"), ("odometer in", "84 401 km"), ("odometer out", "84 409 km"), ("technician", "T. Vell")])  # fmt: skip
    s.head("Customer states").text("Loses coolant, white smoke at start-up. Starts and drives.")
    s.head("Cause").text("Head gasket burnt through between cylinder 2 and water jacket.")
    s.head("Work done")
    s.table(["labour", "hours", "rate", "EUR"], [
        ["Cylinder head gasket replaced, head faced, head bolts new, timing set", "9.5", "68.00", "646.00"],
        ["Valve cover and coil rail boss cleaned and repainted blue-grey", "0.8", "68.00", "54.40"],
        ["Intake, coils and coil harness refitted, cooling system filled and bled", "1.2", "68.00", "81.60"],
    ], [100, 16, 18, 22], right=(1, 2, 3))  # fmt: skip
    s.table(["part", "number", "qty", "EUR"], [
        ["Head gasket set", "HG-3306", "1", "148.00"], ["Head bolt set", "HB-3310", "1", "62.00"],
        ["Valve cover gasket", "VC-3321", "1", "31.50"], ["Coolant, litres", "CL-12", "6", "45.00"],
        ["Engine paint, blue-grey", "EP-04", "1", "14.00"],
    ], [90, 30, 12, 22], right=(2, 3))  # fmt: skip
    s.table(["", "EUR"], [["labour", "782.00"], ["parts", "300.50"], ["tax 20 % (rate of this demonstration)", "216.50"],
                          ["total, paid by card 14 May 2026", "1 299.00"]], [120, 24], right=(1,), total=1)  # fmt: skip
    s.text("Road test 8 km: starts, idles evenly, no leaks. Codes cleared at 84 409 km. Old gasket and bolts scrapped.")
    s.text("We stand by this repair for 12 months or 20 000 km, whichever comes first.")
    s.save(folder / "prior-invoice.pdf")


def _owner_receipt(folder):
    s = Sheet("Hollin Stray Towing Accessories", "2 Ferry Approach, Vellbridge", "Receipt 4471", accent="#4c5a2c")
    s.facts([("date", "15 May 2026, 17:12"), ("paid", "cash")])
    s.table(["article", "number", "EUR"], [
        ["Trailer socket set, 7 pin, own fused line (20 A), no network unit", "TS-7-20", "89.00"],
        ["Tow bar socket bracket", "TB-2", "18.00"], ["Cable ties, grommet", "-", "12.00"], ["total, tax included", "", "119.00"],
    ], [100, 24, 22], right=(2,), total=1)  # fmt: skip
    s.text("Instruction 7-20, sheet 2: red to battery positive post through the 20 A holder supplied, black to battery negative "
           "post, lamps taken by clip-on sensors at the tail lamps. No wire of the vehicle is cut.")  # fmt: skip
    s.save(folder / "owner-receipt.pdf")


def _tow_ticket(folder):
    s = Sheet("Wexley Moor Recovery", "Depot 3, Wexley Moor", "Recovery ticket 0912", accent="#5b4a7d")
    s.facts([("date", "16 May 2026"), ("from", "9 Oven Street, Vellbridge, 10:40"), ("to", "31 Tamsgate Lane, Vellbridge, 11:25"), *VAN,
             ("odometer", "84 512 km"), ("keys", "one, handed on")])  # fmt: skip
    s.text("Lifted on a flat bed, wheels strapped, no attempt to start, bonnet not opened. No damage seen on loading. "
           "Unloaded into bay 3 by hand winch.")  # fmt: skip
    s.table(
        ["", "EUR"],
        [["recovery, 11 km", "98.33"], ["tax 20 %", "19.67"], ["total", "118.00"]],
        [120, 24],
        right=(1,),
        total=1,
    )
    s.signed("D. Marwick, owner", "Noel Sarn, driver", "Ida Ansgar, received")
    s.save(folder / "tow-ticket.pdf")


def _consents(folder):
    s = Sheet(*SHOP, "Authorisation to work order TVD-1907")
    s.facts([("customer", "Della Marwick"), *VAN, ("date and time", "16 May 2026, 11:40"), ("odometer", "84 512 km")])
    s.text("Three separate authorisations. Each may be refused without harm to the others.")
    s.table(["", "what I allow", "limit", "answer"], [
        ["1", "Find the cause, without taking anything apart that the last repair reached", "300.00 EUR plus tax", "yes  D.M."],
        ["2", "Tests that change the state of the vehicle, after the last repairer was told and had time to look", "120.00 EUR plus tax", "yes  D.M."],
        ["3", "Tell the last repairer and insurers what was found, with copies of pictures and readings", "-", "yes  D.M."],
    ], [8, 100, 34, 22])  # fmt: skip
    s.text(
        "Replaced parts: to be kept by the workshop, tagged and locked away, until I release them in writing.  yes  D.M."
    )
    s.signed("Della Marwick, owner", "Ida Ansgar, technician")
    s.save(folder / "consents.pdf")


def _declaration(folder):
    s = Sheet(*SHOP, "Owner's declaration")
    s.facts(
        [
            ("given by", "Della Marwick, owner and driver"),
            ("taken by", "Ida Ansgar"),
            ("date and time", "16 May 2026, 11:52"),
            *VAN,
        ]
    )
    s.text("Taken before anything was examined; nothing found has been shown to me.")
    s.table(["asked", "answer"], [
        ["Own work since the last repair", ("Yes. On Friday 15 May, 18:00 to 20:15, I fitted a trailer socket from a set: red and black to the battery "
         "posts with its own fuse, clip-on sensors at the tail lamps. I did not open anything on the engine.")],
        ["Accessories", "The trailer socket, nothing else."], ["Other repairers since", "None."],
        ["Attempts to start", "Saturday 16 May, 06:50, three tries of about ten seconds. It turns, nothing more."],
        ["Jump start", "None, by nobody."], ["Use since the last repair", "Deliveries Thursday and Friday, about 100 km, and home. It ran well until I parked it on Friday at 17:40."],
        ["After fitting the socket", "I did not start it again that evening. I tried the lamps with the key on, they worked."],
        ["Warning lamps", "None that I saw."], ["Washed, flooded", "No."], ["Before the last repair", "It started every day; it lost coolant and smoked white."],
    ], [40, 120])  # fmt: skip
    s.text("This is true to the best of my knowledge.")
    s.signed("Della Marwick, owner", "Ida Ansgar, taken by")
    s.save(folder / "owner-declaration.pdf")


def _manual(folder):
    s = Sheet(
        "Workshop manual DV-4",
        "Invented document WM-DV4-2.0, edition 2024-03, valid on 11 May 2026",
        "Extract: ignition, head, fuel",
        accent="#3a3f4a",
    )
    s.head("Page 12-07, coil rail")
    s.text("All four coils share one ground eyelet on the boss at the front left of the cylinder head. The seat is bare metal: mask "
           "it when painting. Clean to bright metal, fit eyelet under a new serrated nut, 9 Nm. Drop at any coil ground terminal "
           "to battery negative post under a load of 2 A: 0.1 V at most.")  # fmt: skip
    s.head("Page 12-09, values")
    s.table(["value", "figure"], [
        ["Drop at coil ground, 2 A load", "0.1 V at most"], ["Drop at coil supply, 2 A load", "0.5 V at most"],
        ["Coil control, cranking (logic level)", "4.2 to 5.2 V pulses"], ["Primary resistance of a coil, 20 °C", "0.45 to 0.65 ohm"],
        ["Insulation of a coil, 500 V", "10 Mohm at least"],
    ], [100, 50])  # fmt: skip
    s.head("Pages 10-22 and 17-03, engine and fuel")
    s.table(["value", "figure"], [
        ["Cranking compression, throttle open, warm", "130 to 155 psi, lowest at least 75 % of highest"],
        ["Fuel rail pressure, cranking", "350 to 420 kPa"], ["Pump current at 12.5 V", "4.5 to 7.0 A"],
    ], [100, 50])  # fmt: skip
    s.save(folder / "manual-extract.pdf")


def _calibration(folder):
    s = Sheet(
        "Pellow Calibration Room", "Level 2, 8 Weighhouse Quay, Vellbridge", "Certificate PC-26-0318", accent="#2b4c7e"
    )
    s.facts(
        [
            ("instrument", "digital multimeter W-M2, serial M2-00417"),
            ("for", "Tamsgate Vehicle Diagnostics"),
            ("calibrated", "18 March 2026"),
            ("due", "18 March 2027"),
        ]
    )
    s.table(["range", "applied", "read", "allowed"], [
        ["6 V DC", "0.2000 V", "0.200 V", "± 0.003 V"], ["6 V DC", "5.0000 V", "5.001 V", "± 0.027 V"], ["60 V DC", "12.500 V", "12.51 V", "± 0.08 V"],
        ["600 ohm", "0.500 ohm", "0.50 ohm", "± 0.03 ohm"], ["600 Mohm, 500 V", "50.0 Mohm", "50.3 Mohm", "± 2.5 Mohm"],
    ], [50, 34, 34, 34], right=(1, 2, 3))  # fmt: skip
    s.text(
        "Accuracy statement: DC volts ± (0.5 % of reading + 2 counts). Room 23 °C. Against reference R-11, itself calibrated 9 January 2026."
    )
    s.signed("H. Pellow, calibration")
    s.save(folder / "calibration-meter.pdf")


def _notice(folder):
    s = Sheet(*SHOP, "Notice, request to preserve, offer to inspect")
    s.text(
        "18 May 2026<br/><br/>To Orrinfell Motor Works, Unit 6, Tannery Yard, Vellbridge<br/>by registered letter and by message"
    )
    s.facts([*VAN, ("your invoice", "OMW-2618 of 14 May 2026"), ("our work order", "TVD-1907")])
    s.text(
        "With the owner's written consent we tell you that this van, which your invoice shows as repaired by you, does not start since 16 May 2026, 84 512 km."
    )
    s.head("What was found, nothing having been touched")
    s.text("The ground eyelet of the coil rail is clamped on painted metal. The drop from every coil ground terminal to the battery negative "
           "post, loaded with 2.1 A, is 4.81 to 4.88 V. While cranking at 212 rpm there are injector pulses and no coil control signal. "
           "The owner fitted a trailer socket on 15 May; its line, fuse and the coil harness were looked at and are recorded.")  # fmt: skip
    s.head("What we ask")
    s.text(
        "Please keep your order, time records, pictures, scan files and any part removed, and tell your insurer if you have one."
    )
    s.head("What we offer")
    s.text("The van stands as found in bay 3. You may see it, photograph it and measure, with us present, on 21, 22, 25 or 26 May 2026, 08:00 to 17:00. "
           "On 27 May 2026, 08:30, we refit the eyelet on clean metal, repeat the readings and then test the module; you may attend.")  # fmt: skip
    s.text("This letter states findings. It does not say who is liable and is no legal advice.")
    s.signed("Ida Ansgar, Tamsgate Vehicle Diagnostics", "Della Marwick, owner")
    s.save(folder / "notice.pdf")


def _dispatch(folder):
    s = Sheet(
        "Vellbridge Letter Office", "1 Market Cross, Vellbridge", "Proof of dispatch and delivery", accent="#8a5a1e"
    )
    s.facts([("item", "registered letter RL 26 0518 077"), ("from", "Tamsgate Vehicle Diagnostics"), ("to", "Orrinfell Motor Works"),
             ("handed in", "18 May 2026, 15:05"), ("delivered", "19 May 2026, 10:22"), ("signed for by", "T. Vell")])  # fmt: skip
    s.save(folder / "proof-of-dispatch.pdf")


def _answer(folder):
    s = Sheet(*PRIOR, "Your letter of 18 May 2026", accent="#7a3b2e")
    s.text("22 May 2026<br/><br/>To Tamsgate Vehicle Diagnostics")
    s.text("The van started and drove when it left us on 14 May. All grounds were refitted as usual. We hear that the customer has wired a trailer "
           "socket herself; a module does not like that. It may also simply be of age. We will not attend and see no reason to pay.")  # fmt: skip
    s.text("Our order and the technician's time sheet are kept.")
    s.signed("Tobin Vell, Orrinfell Motor Works")
    s.save(folder / "prior-answer.pdf")


def _shop_invoice(folder):
    s = Sheet(*SHOP, "Invoice TVD-1907")
    s.facts(
        [
            ("customer", "Marwick Bakery, Della Marwick"),
            *VAN,
            ("opened", "16 May 2026"),
            ("closed", "29 May 2026"),
            ("odometer in and out", "84 512 km, 84 512 km"),
        ]
    )
    s.table(["line", "kind", "hours", "EUR"], [
        ["Diagnosis, readings and bench test, at 92.00", "diagnosis", "3.0", "276.00"],
        ["Seat cleaned, ground eyelet refitted to page 12-07", "rework", "0.3", "27.60"],
        ["Engine control module replaced", "resulting damage", "1.0", "92.00"],
        ["Programming and immobiliser matching", "resulting damage", "1.5", "138.00"],
        ["Engine control module, new, 2P-40771-D", "resulting damage", "", "612.00"],
        ["Serrated nut and washer, 2P-10006", "rework", "", "3.40"],
        ["net", "", "", "1 149.00"], ["tax 20 % (rate of this demonstration)", "", "", "229.80"],
        ["core deposit, refundable, old module held as exhibit", "incidental, temporary", "", "60.00"], ["total", "", "", "1 438.80"],
    ], [88, 34, 14, 22], right=(2, 3), total=1)  # fmt: skip
    s.text(
        "Old module tagged, in a static-safe bag, locked away. After the repair: starts, idles at 780 rpm, no codes stored."
    )
    s.save(folder / "shop-invoice.pdf")


def _hire(folder):
    s = Sheet("Quarrel Hill Van Hire", "Old Goods Station, Vellbridge", "Hire invoice QH-558", accent="#35605a")
    s.facts(
        [
            ("hirer", "Marwick Bakery"),
            ("vehicle", "delivery van, like class"),
            ("from", "18 May 2026"),
            ("to", "29 May 2026"),
        ]
    )
    s.table(
        ["", "days", "rate", "EUR"],
        [["working days 18 to 23 and 25 to 29 May, tax included", "11", "44.00", "484.00"]],
        [90, 16, 20, 24],
        right=(1, 2, 3),
        total=1,
    )
    s.save(folder / "hire-invoice.pdf")
