"""What the program fills in, no person writes: neither in a folder nor by an amendment."""

import pytest
from evidence.model.happening import DossierOpening
from evidence.model.people import Correspondence
from evidence.model.reviewing import ReviewMark
from evidence.model.vehicle import Vehicle
from evidence.model.when import When
from pydantic import ValidationError

RIGHT = "1M8GDM9AXKP042788"  # 49 CFR 565.15(c) holds for it
WRONG = "1M8GDM9A1KP042788"  # the same with another check digit


def test_a_note_on_the_vin_does_not_silence_the_check():
    assert Vehicle.handed_in({"description": "van", "vin": RIGHT}, {}).vin_note is None
    with pytest.raises(ValidationError):
        Vehicle.handed_in({"description": "van", "vin": WRONG}, {})
    assert Vehicle.filled_in == {"vin_note"}


def test_the_span_of_a_time_is_computed_never_handed_in():
    stored = When.model_validate("2026-03-02 14:30", context={"zone": "Europe/Lisbon"}).model_dump(exclude_none=True)
    assert When.model_validate(stored).given == "2026-03-02 14:30"
    with pytest.raises(ValidationError, match="computed"):
        When.model_validate({**stored, "earliest": "2020-01-01T00:00:00Z"}, context={"written": True})


def test_which_dossier_a_review_speaks_of_is_no_persons_word():
    assert DossierOpening.filled_in == {"reviews"}
    assert Correspondence.filled_in == {"review"}
    assert ReviewMark.filled_in == {"entries"}
