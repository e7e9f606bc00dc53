"""The forms that a paper can be, by their short names."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from evidence.report.papers import certification, consents, hearing, meeting, technician
from evidence.report.papers.paper import Kind

FORMS: Final[Mapping[str, Kind]] = MappingProxyType(
    {
        "consent": Kind("Consent of the owner", "owner", consents.consent),
        "authorisation": Kind("Authorisation and estimate for diagnosis", "owner", consents.authorisation),
        "inspection": Kind("Protocol of a joint inspection", "shop", meeting.inspection),
        "settlement": Kind("Settlement and release (draft)", "owner", meeting.settlement),
        "technician": Kind("Statement of the technician", "shop", technician.statement),
        "certification": Kind("Certification of the electronic records", "shop", certification.certification),
        "exhibits": Kind("List of exhibits", "owner", hearing.exhibit_list),
        "brief": Kind("Brief for an adjuster", "adjuster", hearing.brief),
    }
)
