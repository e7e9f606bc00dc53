"""What nobody touched is intact, by both verifiers; the kit itself writes what the program writes."""

from __future__ import annotations

from bag_kit import Receiver, Sealed, packed, unpacked

from bundles import whole_bundle


def test_an_unchanged_bundle_is_intact(sealed: Sealed, receiver: Receiver) -> None:
    for told in (True, False):
        assert receiver.both(sealed.data, told=told) == (0, 0)


def test_the_kit_packs_as_the_program_does() -> None:
    data = whole_bundle().read_bytes()
    assert packed(unpacked(data)) == data
