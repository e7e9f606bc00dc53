"""A mistake of the trade that was made knowingly, and the reason a person gave for it."""

from __future__ import annotations

from typing import Any, Final, Literal, get_args

from pydantic import model_validator

from evidence.model.base import Text, Value, nearest

MistakeCode = Literal[
    "put_right_unseen", "part_let_go", "codes_cleared", "no_time_base", "no_odometer", "instrument_unproven",
    "reading_unrepeatable", "one_part_only", "owner_unheard", "hearsay", "no_notice", "harsh_words", "several_changes",
    "uncoded_module", "picture_stripped", "picture_altered", "custody_gap", "driven_on", "cost_unexplained", "one_lump_sum",
    "rivals_untested", "interest_unstated", "day_missed", "private_data", "talk_among_evidence", "wrong_respondent",
]  # fmt: skip

MISTAKE_CODES: Final[tuple[MistakeCode, ...]] = get_args(MistakeCode)


class Despite(Value):
    """Why a step is recorded although it makes a mistake. A person may write ``no_notice: the owner could not wait``."""

    mistake: MistakeCode
    why: Text

    @model_validator(mode="before")
    @classmethod
    def _written(cls, raw: Any) -> Any:
        if not isinstance(raw, str):
            return raw
        mistake, colon, why = raw.partition(":")
        code = mistake.strip().lower().replace("-", "_")
        if not colon or not why.strip():
            raise ValueError(
                f"{raw!r} gives no reason; write 'CODE: reason', such as 'no_notice: the owner could not wait'"
            )
        if code not in MISTAKE_CODES:
            raise ValueError(f"{mistake.strip()!r} is no mistake known here{nearest(code, MISTAKE_CODES)}")
        return {"mistake": code, "why": why.strip()}
