"""Shoots in memory for tests of clocks: a camera, its photos as the program stores them, and clock references. All invented."""

import datetime as dt

from evidence.model.dossier import Step, fold
from evidence.model.kinds import KINDS
from evidence.model.when import span_of, utc_text
from evidence.timeline.clocks import Clocks

from build import Case

NOON = dt.datetime(2026, 6, 10, 12, tzinfo=dt.UTC)


def at(moment):
    """A moment in UTC as a person writes it, without its zone."""
    return moment.astimezone(dt.UTC).isoformat(sep=" ", timespec="seconds").removesuffix("+00:00")


class Shoot(Case):
    """A camera, its photos and its references. ``zone`` is that of the dossier."""

    def __init__(self, zone="Europe/Lisbon"):
        super().__init__()
        self.record("party", full_name="Ann Teal")
        self.record("dossier", title="A car", zone=zone)

    def photo(self, captured, name="photo.jpg", device="camera A", **more):
        when = {"given": captured, **_span(captured), "source": "device_clock"}
        number = sum(k == "exhibit" for k, *_ in self.entries) + 1
        raw = {
            "file": {"sha256": f"{number:064x}", "size": 1, "name": name},
            "read": {"media": "photo", "type": "image/jpeg", "reader": "test", "device": device, "captured": when}, **more,
        }  # fmt: skip
        return self.record("exhibit", **raw)

    def reference(self, showed, true, uncertainty="1 s", **more):
        base = {"device": "camera A", "source": "reference_clock", "true_time": true, "uncertainty": uncertainty}
        return self.record("clock_reference", **{**base, **({"clock_showed": showed} if showed else {}), **more})

    def dossier(self):
        """Exhibits carry facts that no person may write: they are folded as the program stores them."""
        zone = next(raw["zone"] for kind, _, raw, _ in self.entries if kind == "dossier")
        steps = []
        for seq, (kind, subject, raw, action) in enumerate(self.entries, 1):
            cls = KINDS[kind]
            body = None
            if raw is not None:
                body = (cls.amended(raw, {"zone": zone}) if kind == "exhibit" else cls.handed_in(raw, {"zone": zone})).body()
            steps.append(Step(seq=seq, kind=kind, subject=subject, action=action, recorded_at=NOON, recorded_by="party-1", body=body))
        return fold("test-ledger", steps)

    def clocks(self):
        return Clocks.of(self.dossier())


def _span(given):
    span = span_of(given, None)
    return {"earliest": utc_text(span.earliest), "latest": utc_text(span.latest)}


def facts(shoot, subject, **more):
    """Add to what the file says."""
    place = next(n for n, e in enumerate(shoot.entries) if e[1] == subject)
    kind, _, raw, action = shoot.entries[place]
    whens = {k: {"given": v, **_span(v), "source": "device_clock"} for k, v in more.items()}
    shoot.entries[place] = (kind, subject, {**raw, "read": {**raw["read"], **whens}}, action)
