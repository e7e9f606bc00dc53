"""A real bundle, sealed by a key that the tests hold, with a time-stamp and a witness; and its receiver."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from bag_kit import SHOP, Receiver, Sealed, ledger_of, packed, resealed, root_and_size, unpacked, with_head, witnessed

from authority import TimeAuthority
from bundles import whole_bundle


@pytest.fixture(scope="session")
def sealed(tmp_path_factory: pytest.TempPathFactory) -> Sealed:
    folder = tmp_path_factory.mktemp("sealed")
    files = unpacked(whole_bundle().read_bytes())
    note = next(d for n, d in with_head(files, SHOP).items() if n.endswith("/head.note"))
    token = TimeAuthority(folder / "authority").stamp(note)
    files = resealed(with_head(files, SHOP, **{"token-1.tsr": token}, **witnessed(files)), SHOP)
    root, size = root_and_size(files)
    return Sealed(files, packed(files), SHOP.fingerprint, f"evidence-ledger/{ledger_of(files)} {size} {root}")


@pytest.fixture(scope="session")
def receiver(sealed: Sealed) -> Iterator[Receiver]:
    memory = Path("/dev/shm")
    with TemporaryDirectory(prefix="evidence-", dir=memory if memory.is_dir() else None) as folder:
        yield Receiver(Path(folder), sealed.key, sealed.head)
