"""Coverage-guided fuzzing of the parsers of a bundle (atheris): ``python tests/attacks/fuzz.py PARSER CORPUS [--bundle BUNDLE] [libFuzzer options]``.

PARSER is a name of ``parsers.PARSERS``; with a bundle the corpus starts from what is sound in it. An input that crashes is written by libFuzzer to ``crash-…``: mend the parser and
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

    with atheris.instrument_imports(include=["evidence", "PIL", "asn1crypto", "pyhanko", "pyhanko_certvalidator"]):
        from parsers import PARSERS, sound
    name, corpus, *options = sys.argv[1:]
    if options[:1] == ["--bundle"]:
        from bag_kit import packed, unpacked

        files = unpacked(Path(options[1]).read_bytes())
        options = options[2:]
        small = packed({n: d for n, d in files.items() if len(d) < 400})
        for number, data in enumerate(sound(files, small)[name]):
            (Path(corpus) / f"sound-{number}").write_bytes(data)
    atheris.Setup([sys.argv[0], corpus, *options], PARSERS[name])
    atheris.Fuzz()


if __name__ == "__main__":
    main()
