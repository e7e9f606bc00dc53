"""The machine: its clock and its randomness."""

from __future__ import annotations

import base64
import datetime as dt
import secrets


class SystemClock:
    """The machine's clock. What it says is asserted by the shop; others may confirm it."""

    def now(self) -> dt.datetime:
        """The present, aware, UTC."""
        return dt.datetime.now(dt.UTC)  # noqa: TID251 - this is the Clock port


class RandomIds:
    """128 random bits at a time, from the operating system."""

    def subject(self) -> str:
        """32 hexadecimal digits."""
        return secrets.token_hex(16)

    def ledger(self) -> str:
        """26 small letters and digits (base32 without padding)."""
        return base64.b32encode(secrets.token_bytes(16)).decode().rstrip("=").lower()
