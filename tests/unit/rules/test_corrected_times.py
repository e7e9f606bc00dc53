"""The rules use the time that is left after a device's clock was put right; a derived copy is no evidence of its own."""

from evidence.rules.holdings import Holdings

from shoots import Shoot


def item_of(shoot):
    return Holdings(shoot.dossier()).observed["ground_seat"][0]


def scene(captured="2026-06-10T10:00:00+01:00", state="undisturbed"):
    """An observation whose only time is that of its photo, and an intervention at 09:30 UTC."""
    shoot = Shoot()
    photo = shoot.photo(captured, state=state)
    shoot.record("intervention", action="refitted", components=["coil-ground-eyelet"], by="party-1", time="2026-06-10T09:30:00Z")
    shoot.record("observation", of="coil-ground-eyelet", aspect="ground_seat", seen="off", text="off", exhibits=[photo])
    return shoot, photo


def test_the_order_in_time_is_that_of_the_clock_put_right():
    shoot, _ = scene()  # 09:00 UTC by the camera
    assert item_of(shoot).met.before == {"intervention-1"}
    shoot.reference("2026-06-10T10:00:00+01:00", "2026-06-10T09:00:04Z")
    assert item_of(shoot).met.before == {"intervention-1"}
    behind, _ = scene()
    behind.reference("2026-06-10T10:00:00+01:00", "2026-06-10T10:00:04Z")  # the camera was an hour slow
    assert item_of(behind).met.after == {"intervention-1"}


def test_a_local_time_of_unknown_zone_is_resolved_by_a_reference():
    shoot, _ = scene("2026-06-10T10:00:00")
    assert item_of(shoot).met.unclear == {"intervention-1"}
    shoot.reference("2026-06-10 12:00:00", "2026-06-10T11:00:00Z")
    assert item_of(shoot).met.before == {"intervention-1"}


def test_references_that_contradict_leave_the_order_open():
    shoot, _ = scene()
    shoot.reference("2026-06-10T10:00:00+01:00", "2026-06-10T09:00:04Z")
    shoot.reference("2026-06-10T10:10:00+01:00", "2026-06-10T10:10:04Z")
    assert item_of(shoot).met.unclear == {"intervention-1"}


def test_a_derived_copy_says_nothing_of_its_own():
    """What is stated of a copy, its state and time, counts for nothing: those of its original do, or none."""
    shoot, photo = scene(state="disturbed")
    copy = shoot.photo("2026-06-01T10:00:00+01:00", name="copy.png", derived_from=photo, state="undisturbed")
    place = len(shoot.entries) - 2
    kind, subject, raw, action = shoot.entries[place]
    assert kind == "observation"
    shoot.entries[place], shoot.entries[-1] = shoot.entries[-1], (kind, subject, {**raw, "exhibits": [copy]}, action)
    item = item_of(shoot)
    assert item.state == "disturbed"
    assert item.span.earliest.isoformat() == "2026-06-10T09:00:00+00:00"
    gone = shoot.drop(photo)
    gone.__class__ = Shoot
    assert (item_of(gone).state, item_of(gone).span) == (None, None)
