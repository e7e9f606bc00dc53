"""What a receiver waits for: checking a bundle, as a folder and as a zip, beside plain hashing, ``bagit`` and ``sha256sum``."""

from __future__ import annotations

import hashlib
import logging
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Iterable
from pathlib import Path

from ours import _silent
from timing import peak_mb, timed, warm

_STARTS = 15


def make_bundles(dossier: Path, place: Path) -> None:
    """The bundle of a dossier folder as ``bundle.zip``, and unpacked as ``disclosure``, in ``place``. Made once."""
    from evidence.bootstrap import make_workspace, open_desk
    from evidence.capture.sources import open_handed
    from evidence.handing_over import write_bundle
    from evidence.review.disclosing import Choice
    from evidence.usecases.intake import Answers, intake_folder

    if (place / "bundle.zip").exists():
        return
    workspace = place / "workspace"
    make_workspace(workspace, recorder="Marta Quill", zone="Europe/Lisbon")
    with open_desk(workspace) as desk:
        intake_folder(desk, open_handed(dossier), Answers(), _silent)
        with desk.ledgers.reading() as view:
            (ledger,) = view.ledgers()
        write_bundle(desk, workspace, ledger, Choice(), place / "bundle.zip", _silent)
        write_bundle(desk, workspace, ledger, Choice(), place / "disclosure", _silent, unpacked=True)


def hashing(place: Path) -> dict[str, float]:
    """H: ``hashlib.file_digest`` over the files of the folder bundle, one thread."""
    files = [p for p in sorted((place / "disclosure").rglob("*")) if p.is_file()]
    warm(files)
    with timed() as found:
        for file in files:
            with file.open("rb") as handle:
                hashlib.file_digest(handle, "sha256")
    return {**found, "megabytes": sum(f.stat().st_size for f in files) / 1e6}


def _warm(paths: Iterable[Path]) -> None:
    """As ``warm``, in pieces: what a check needs at most is measured as well."""
    for path in paths:
        with path.open("rb") as handle:
            while handle.read(1 << 20):
                pass
    os.sync()


def checked(bundle: Path, threads: int, *, both: bool = False, quick: bool = False) -> dict[str, float]:
    """Every byte, list, link, proof and signature of a bundle; what is missing and what is added."""
    from evidence.bundle.reader import check_bytes

    _warm([bundle] if bundle.is_file() else [p for p in bundle.rglob("*") if p.is_file()])
    with timed() as found:
        said = check_bytes(bundle, threads=threads, both=both, quick=quick)
    assert said.exit_code == 0, said.faults
    assert quick or len(said.read) > 10
    return {**found, "peak_mb": peak_mb()}


def verified(bundle: Path, work: Path) -> dict[str, float]:
    """The same with the chain read a second time, the PDF looked into, and the assessment run again."""
    from evidence.receiving import Asked, verify_received

    _warm([bundle])
    with timed() as found:
        said = verify_received(bundle, Asked(threads=2), _silent, work)
    assert (said.exit_code, said.findings) == (0, "agree")
    return {**found, "peak_mb": peak_mb()}


def bagit_validates(folder: Path, processes: int, *, fast: bool = False) -> dict[str, float]:
    """The library of the Library of Congress, both algorithms."""
    import bagit

    logging.getLogger("bagit").setLevel(logging.CRITICAL)
    warm(p for p in folder.rglob("*") if p.is_file())
    with timed() as found:
        assert bagit.Bag(str(folder)).validate(processes=processes, fast=fast)
    return found


def sha256sum_checks(folder: Path) -> dict[str, float]:
    """``sha256sum -c``: coreutils without the processor's own SHA instructions on Debian 12."""
    warm(p for p in folder.rglob("*") if p.is_file())
    with timed() as found:
        subprocess.run(["sha256sum", "-c", "--quiet", "manifest-sha256.txt"], cwd=folder, check=True)
    return found


def to_first_byte(place: Path) -> dict[str, float]:
    """The stand-alone verifier from its start until it opens the bundle."""
    bundle, verifier = str(place / "bundle.zip"), str(place / "disclosure/data/verify.py")
    script = (
        "import os, sys, time\n"
        f"def heard(event, given):\n    if event == 'open' and given[0] == {bundle!r}:\n"
        "        os.write(1, b'%d' % time.monotonic_ns()); os._exit(0)\n"
        f"sys.addaudithook(heard)\nsys.argv = ['verify.py', {bundle!r}]\n"
        f"source = open({verifier!r}, encoding='utf-8').read()\n"
        f"exec(compile(source, 'verify.py', 'exec'), {{'__name__': '__main__', '__file__': {verifier!r}}})\n"
    )
    times = []
    for _ in range(_STARTS):
        begun = time.monotonic_ns()
        done = subprocess.run([sys.executable, "-I", "-c", script], stdout=subprocess.PIPE, check=True)
        times.append((int(done.stdout) - begun) / 1e9)
    return {"each": statistics.median(times)}


def python_start() -> dict[str, float]:
    """An interpreter that does nothing."""
    times = []
    for _ in range(_STARTS):
        begun = time.perf_counter()
        subprocess.run([sys.executable, "-I", "-c", "pass"], check=True)
        times.append(time.perf_counter() - begun)
    return {"each": statistics.median(times)}
