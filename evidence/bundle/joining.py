"""The verifier that goes with a bundle: the modules of ``alone`` joined into one file for the standard library."""

from __future__ import annotations

import re
from importlib.resources import files

# Each uses only those before it.
_MODULES = ("opening", "signatures", "ledger", "bag", "seals", "verify")
_OWN_IMPORT = re.compile(r"^from evidence\.[^\n(]*import (?:\([^)]*\)|[^\n(]*)\n", re.MULTILINE)
_FOR_TYPES = re.compile(r"^TYPE_CHECKING = False[^\n]*\nif TYPE_CHECKING:\n(?:    [^\n]*\n|\n(?=    ))+", re.MULTILINE)
_DOCSTRING = re.compile(r'\A"""(.*?)"""\n', re.DOTALL)


def verifier_source() -> bytes:
    """The source of ``verify.py``: the help first, then each module under its name."""
    texts = {name: (files("evidence.bundle.alone") / f"{name}.py").read_text(encoding="utf-8") for name in _MODULES}
    help_ = _DOCSTRING.match(texts["verify"])
    assert help_
    joined = [f'#!/usr/bin/env python3\n"""{help_[1]}"""\n\nfrom __future__ import annotations\n']
    for name, text in texts.items():
        said = _DOCSTRING.match(text)
        assert said
        body = _OWN_IMPORT.sub("", _FOR_TYPES.sub("", text[said.end() :])).replace(
            "from __future__ import annotations\n", ""
        )
        joined.append(f"# {name}: {said[1].split(chr(10))[0]}\n\n{body.strip()}\n")
    return "\n\n".join(joined).encode()
