"""Coverage-guided fuzzing of the parsers of a bundle (atheris): ``python tests/attacks/fuzz.py PARSER [CORPUS] [libFuzzer options]``.

PARSER is a name of ``parsers.PARSERS``. An input that crashes is written by libFuzzer to ``crash-…``: mend the parser and
keep the input as a test in ``test_parsers.py``.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests/attacks"), str(ROOT / "tests/faults")]


def main() -> None:
    """Fuzz one parser until told to stop (``-max_total_time=SECONDS``)."""
    import atheris

    with atheris.instrument_imports(include=["evidence"]):
        from parsers import PARSERS
    name, *options = sys.argv[1:]
    atheris.Setup([sys.argv[0], *options], PARSERS[name])
    atheris.Fuzz()


if __name__ == "__main__":
    main()
