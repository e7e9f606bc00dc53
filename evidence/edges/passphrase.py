"""Where a passphrase comes from: the environment, else a person at the terminal, else nowhere."""

from __future__ import annotations

import os
import sys
from functools import cache

from evidence.errors import EvidenceError

VARIABLE = "EVIDENCE_PASSPHRASE"
NEW_VARIABLE = "EVIDENCE_NEW_PASSPHRASE"
SHORTEST = 12  # characters. The key file resists guessing only as far as its passphrase does


def passphrase_for(what: str) -> bytes | None:
    """The passphrase that opens ``what`` ("the shop key"); None where there is nobody to ask."""
    given = os.environ.get(VARIABLE)
    if given:
        return given.encode()
    if not _somebody_there():
        return None
    return _asked(f"Passphrase of {what}: ") or None


def new_passphrase_for(what: str) -> bytes | None:
    """A new passphrase: the environment's, else asked twice; None where there is nobody to ask."""
    given = os.environ.get(NEW_VARIABLE)
    if not given and not _somebody_there():
        return None
    phrase = given.encode() if given else _asked(f"New passphrase of {what} (at least {SHORTEST} characters): ")
    if len(phrase.decode()) < SHORTEST:
        raise EvidenceError(
            f"the passphrase is too short: {SHORTEST} characters at least", item=what,
            advice="Four or five words that do not belong together are long enough and can be remembered. Nothing was changed.",
        )  # fmt: skip
    if not given and _asked("The same again: ") != phrase:
        raise EvidenceError("the two are not the same", item=what, advice="Nothing was changed; run the command again.")
    return phrase


def _somebody_there() -> bool:
    return sys.stdin is not None and sys.stdin.isatty() and sys.stderr.isatty()


def _asked(prompt: str) -> bytes:
    from getpass import getpass

    return getpass(prompt).encode()


@cache
def remembered(what: str) -> bytes | None:
    """As :func:`passphrase_for`, asked once in a run: head, PDF and bundle are signed by one command."""
    return passphrase_for(what)
