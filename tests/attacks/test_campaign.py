"""Mutations of a real bundle: each is detected by the installed verifier and by the stand-alone file, none by a traceback.

The receiver was told the fingerprint and the head. The short version runs with every test run; the long one is
``pytest -m campaign tests/attacks`` and prints its figures (``-s``).
"""

from __future__ import annotations

import random
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from bag_kit import Receiver, Sealed
from mutations import MUTATIONS, bit_flipped

SEED = 20260301


def _run(sealed: Sealed, receiver: Receiver, count: int, seed: int) -> Counter[str]:
    """``count`` mutations, every kind as often; returns how many of each were tried and detected by both."""
    tried: Counter[str] = Counter()
    silent: list[str] = []
    for number in range(count):
        mutation = MUTATIONS[number % len(MUTATIONS)]
        data = mutation(random.Random(f"{seed} {number}"), sealed)
        if data == sealed.data:
            continue  # nothing was changed: a swap of equals, a cut at the end
        codes = receiver.both(data)
        tried[mutation.__name__] += 1
        if set(codes) != {1} and not _is_no_bundle(data):
            silent.append(f"seed {seed}, number {number}, {mutation.__name__}: installed {codes[0]}, alone {codes[1]}")
    assert silent == []
    return tried


def _is_no_bundle(data: bytes) -> bool:
    """Neither the beginning of a zip nor the end of one is left: exit code 2, as for any file that is no bundle."""
    return not data.startswith(b"PK\x03\x04") and b"PK\x05\x06" not in data[-66_000:]


@pytest.mark.parametrize("part", range(4))
def test_a_few_hundred_mutations_are_all_detected(sealed: Sealed, receiver: Receiver, part: int) -> None:
    tried = _run(sealed, receiver, 5 * len(MUTATIONS), SEED + part)
    assert len(tried) == len(MUTATIONS)


def test_single_bits(sealed: Sealed, receiver: Receiver) -> None:
    silent = [n for n in range(100) if receiver.both(bit_flipped(random.Random(f"bit {n}"), sealed)) != (1, 1)]
    assert silent == []


@pytest.mark.campaign
def test_twenty_thousand_mutations(sealed: Sealed, receiver: Receiver) -> None:
    tried = _run(sealed, receiver, 21_000, SEED + 100)
    print(f"\n{sum(tried.values())} mutations, seed {SEED + 100}, all detected by both verifiers")
    for name, count in sorted(tried.items()):
        print(f"  {name:24} {count}")
    assert sum(tried.values()) >= 20_000


@pytest.mark.campaign
def test_ten_thousand_single_bits(sealed: Sealed, receiver: Receiver) -> None:
    silent = [n for n in range(10_000) if receiver.both(bit_flipped(random.Random(f"bits {n}"), sealed)) != (1, 1)]
    print(f"\n10000 single-bit flips, {len(silent)} silent")
    assert silent == []


@pytest.mark.campaign
def test_mutations_through_real_processes(sealed: Sealed, receiver: Receiver, tmp_path: Path) -> None:
    """Both verifiers as a receiver starts them: exit codes, and nothing that looks like a traceback."""
    alone = tmp_path / "verify.py"
    alone.write_bytes(sealed.files["data/verify.py"])
    told = ["--key", sealed.key, "--head", sealed.head]
    for number in range(5 * len(MUTATIONS)):
        data = MUTATIONS[number % len(MUTATIONS)](random.Random(f"process {number}"), sealed)
        bundle = tmp_path / "bundle.zip"
        bundle.write_bytes(data)
        for command in (["-I", str(alone)], ["-m", "evidence.cli.main", "verify"]):
            done = subprocess.run([sys.executable, *command, str(bundle), *told], capture_output=True, text=True)
            code = 0 if data == sealed.data else 2 if _is_no_bundle(data) else 1
            assert done.returncode == code, (number, done.stdout, done.stderr)
            assert "Traceback" not in done.stderr, (number, done.stderr)
