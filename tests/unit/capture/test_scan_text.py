"""Trouble codes: SAE J2012 / ISO 15031-6. The byte pairs were decoded with an independent OBD library and by definition."""

import pytest
from evidence.capture.scan_text import code_of_bytes, codes_in, matches_mask, status_of


@pytest.mark.parametrize(
    ("pair", "code"),
    [
        ("0133", "P0133"), ("0143", "P0143"), ("0300", "P0300"), ("0562", "P0562"), ("248B", "P248B"),
        ("1123", "P1123"), ("4123", "C0123"), ("8001", "B0001"), ("C100", "U0100"), ("C073", "U0073"),
        ("D016", "U1016"), ("9ABC", "B1ABC"), ("3FFF", "P3FFF"), ("FFFF", "U3FFF"), ("0000", None),
    ],
)  # fmt: skip
def test_two_bytes(pair, code):
    assert code_of_bytes(*bytes.fromhex(pair)) == code


def test_three_bytes_with_the_failure_type():
    # ISO 14229-1, reply 59 02 7F 0A9B17 24 080511 2F: read with an independent UDS library
    assert code_of_bytes(0x0A, 0x9B, 0x17) == "P0A9B-17"
    assert code_of_bytes(0x08, 0x05, 0x11) == "P0805-11"
    with pytest.raises(ValueError, match="not a byte"):
        code_of_bytes(256, 0)


@pytest.mark.parametrize(
    ("byte", "bits"),
    [
        (0x00, ()),
        (0x24, ("pending", "failed_since_clear")),
        (0x2F, ("test_failed", "test_failed_this_cycle", "pending", "confirmed", "failed_since_clear")),
        (0x50, ("not_completed_since_clear", "not_completed_this_cycle")),
        (0xAF, ("test_failed", "test_failed_this_cycle", "pending", "confirmed", "failed_since_clear", "lamp_requested")),
    ],
)
def test_status_byte(byte, bits):
    """ISO 14229-1 DTCStatusMask."""
    assert status_of(byte) == bits


def test_status_words_are_those_of_a_stored_code():
    from typing import get_args

    from evidence.capture.scan_text import STATUS_BITS
    from evidence.model.examination import StoredCode

    (words, _) = get_args(StoredCode.model_fields["status"].annotation)
    assert set(STATUS_BITS) <= set(get_args(words))


@pytest.mark.parametrize(
    ("mask", "answers"), [(0x84, {0x24: True, 0x00: False, 0x2F: True}), (0x08, {0x24: False, 0x26: False, 0x2F: True})]
)
def test_a_code_matches_a_mask_by_any_bit(mask, answers):
    assert {status: matches_mask(status, mask) for status in answers} == answers


def test_codes_in_a_report():
    text = "ECM: P0351 (confirmed), P0351 again; BCM b1abc B1abc-1f\nU0100-87: lost. Part 06P0351E, P4351, XP0351, P03511, P0351A"
    assert codes_in(text) == ("P0351", "B1ABC-1F", "U0100-87")
