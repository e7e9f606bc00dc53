"""Files that the tests of capture make, and real camera files out of packages of the registry."""

import hashlib
import os
import subprocess
import sys
import tarfile
import zipfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

# Package, its SHA-256-checked members (start of the digest) and licence; the first five digests and the values that
# the tests hold them to come from a reading with two other programs, the rest of the digests from the package itself.
PACKAGES = {
    "pillow-heif==1.8.1": {  # BSD-3-Clause
        "tests/images/heif_other/pug.heic": "1ddce96766efbfa0",
        "tests/images/heif_other/arrow.heic": "73f604d7353df484",
        "tests/images/heif_special/xiaomi.heic": "cb5c7d9131931df4",
        "tests/images/heif_special/200MP.heic": "4dd7209010986a50",
        "tests/images/heif_other/spatial_photo.heic": "ef941d328072a2df",
    },
    "pillow==13.0.0": {  # MIT-CMU
        "Tests/images/empty_gps_ifd.jpg": "2cd3312aaff7d7c8",
        "Tests/images/hopper_orientation_2.jpg": "74c9a62ac650679f",
        "Tests/images/hopper_orientation_3.jpg": "4de2ed009e7381f3",
        "Tests/images/hopper_orientation_4.jpg": "36cf6465639c2732",
        "Tests/images/hopper_orientation_5.jpg": "a7314817223fcc37",
        "Tests/images/hopper_orientation_6.jpg": "2e78bb18895fa23e",
        "Tests/images/hopper_orientation_7.jpg": "29c57f9ea98a42c1",
        "Tests/images/hopper_orientation_8.jpg": "5a78762a2822209d",
    },
    "piexif==1.1.3": {"tests/images/01.jpg": "360eb3ce66533146"},  # MIT
}
UNREACHABLE = ("Connection", "connection", "Temporary failure", "Could not fetch URL", "No matching distribution",
               "timed out", "No module named pip", "ProxyError", "SSLError")  # fmt: skip


@pytest.fixture(scope="session")
def camera_files(tmp_path_factory):
    """Folder with the files of PACKAGES by their last name, fetched once into the user's cache."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "comeback-evidence" / "camera-files"
    cache.mkdir(parents=True, exist_ok=True)
    with (cache / ".lock").open("w") as lock:
        if sys.platform != "win32":
            import fcntl

            fcntl.flock(lock, fcntl.LOCK_EX)  # several workers of one test run
        absent = [p for p, members in PACKAGES.items() if not all(_whole(cache / Path(m).name, d) for m, d in members.items())]
        with ThreadPoolExecutor(len(PACKAGES)) as pool:
            problems = [p for p in pool.map(lambda p: _fetch(p, cache, tmp_path_factory.mktemp("sdist")), absent) if p]
    if problems:
        pytest.skip(f"the package registry cannot be reached: {problems[0]}")
    return cache


def _whole(path, digest):
    return path.exists() and hashlib.sha256(path.read_bytes()).hexdigest().startswith(digest)


def _fetch(package, cache, folder):
    command = [sys.executable, "-m", "pip", "download", "--no-deps", "--no-binary", ":all:", "--retries", "1",
               "--timeout", "15", "--disable-pip-version-check", "--dest", str(folder), package]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode:
        problem = (done.stderr or done.stdout).strip()
        assert any(sign in problem for sign in UNREACHABLE), problem
        return problem.splitlines()[-1][:200]
    (archive,) = folder.iterdir()
    for member, digest in PACKAGES[package].items():
        raw = _member(archive, member)
        assert hashlib.sha256(raw).hexdigest().startswith(digest), f"{member} of {package} is not the known file"
        part = cache / f".{Path(member).name}.part"
        part.write_bytes(raw)
        part.replace(cache / Path(member).name)
    return ""


def _member(archive, member):
    if archive.suffix == ".zip":
        with zipfile.ZipFile(archive) as z:
            return z.read(f"{archive.name.removesuffix('.zip')}/{member}")
    with tarfile.open(archive) as t:
        return t.extractfile(f"{archive.name.removesuffix('.tar.gz')}/{member}").read()


@pytest.fixture
def put(tmp_path):
    """Write bytes under a name; returns the path."""

    def write(name, raw):
        path = tmp_path / name
        path.write_bytes(raw)
        return path

    return write
