"""A throw-away PostgreSQL cluster on a free port of this machine."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def programs() -> Path | None:
    """Where the server programs are, as Debian installs them."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    return found[-1].parent if found else None


@contextmanager
def cluster(folder: Path) -> Iterator[str]:
    """Start a cluster in ``folder``, yield the URL of its empty database, stop it and remove it."""
    bin_ = programs()
    assert bin_, "no PostgreSQL server programs"
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    folder.mkdir()
    as_user: list[str] = []
    if os.geteuid() == 0:  # the server refuses to run as root
        shutil.chown(folder, "postgres", "postgres")
        as_user = ["runuser", "-u", "postgres", "--"]
    data = folder / "data"

    def run(*command: str) -> None:
        subprocess.run([*as_user, *command], check=True, cwd=folder, stdout=subprocess.DEVNULL)

    options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1"
    run(str(bin_ / "initdb"), "-D", str(data), "-U", "bench", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8")
    run(str(bin_ / "pg_ctl"), "-D", str(data), "-w", "-l", str(folder / "log"), "-o", options, "start")
    try:
        yield f"postgresql+psycopg://bench@127.0.0.1:{port}/postgres"
    finally:
        run(str(bin_ / "pg_ctl"), "-D", str(data), "-w", "-m", "immediate", "stop")
        shutil.rmtree(folder)


def empty_database(url: str) -> str:
    """An empty database in the cluster, for one measurement; returns its URL."""
    import psycopg

    with psycopg.connect(url.replace("+psycopg", ""), autocommit=True) as server:
        server.execute("DROP DATABASE IF EXISTS measured")
        server.execute("CREATE DATABASE measured")
    return url.rsplit("/", 1)[0] + "/measured"
