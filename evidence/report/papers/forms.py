"""The forms that a paper can be, by their short names."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from evidence.report.papers import certification, consents, hearing, meeting, technician
from evidence.report.papers.language import message
from evidence.report.papers.paper import Kind

FORMS: Final[Mapping[str, Kind]] = MappingProxyType(
    {
        "consent": Kind(message("Consent of the owner"), "owner", consents.consent),
        "authorisation": Kind(message("Authorisation and estimate for diagnosis"), "owner", consents.authorisation),
        "inspection": Kind(message("Protocol of a joint inspection"), "shop", meeting.inspection),
        "settlement": Kind(message("Settlement and release (draft)"), "owner", meeting.settlement),
        "technician": Kind(message("Statement of the technician"), "shop", technician.statement),
        "certification": Kind(message("Certification of the electronic records"), "shop", certification.certification),
        "exhibits": Kind(message("List of exhibits"), "owner", hearing.exhibit_list),
        "brief": Kind(message("Brief for an adjuster"), "adjuster", hearing.brief),
    }
)
