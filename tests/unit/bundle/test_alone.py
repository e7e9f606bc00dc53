"""The verifier that goes with a bundle: one file, the standard library alone."""

from __future__ import annotations

import ast
import subprocess
import sys
import zipfile
from collections import Counter
from pathlib import Path

import pytest
from evidence.bundle.alone.signatures import public_key, signed
from evidence.bundle.alone.verify import check, verdict
from evidence.bundle.joining import verifier_source
from evidence.record.checkpoint import public_pem

from bundles import whole_bundle


def test_the_joined_file_defines_each_name_once_and_imports_the_standard_library_alone() -> None:
    tree = ast.parse(verifier_source())
    names = [n.name for n in tree.body if isinstance(n, (ast.FunctionDef, ast.ClassDef))]
    names += [t.id for n in tree.body if isinstance(n, ast.Assign) for t in n.targets if isinstance(t, ast.Name)]
    assert {n: c for n, c in Counter(names).items() if c > 1} == {}
    modules = {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    modules |= {str(n.module) for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
    assert {m.split(".")[0] for m in modules} <= sys.stdlib_module_names


# RFC 8032 section 7.1, tests 1 to 3: public key, message, signature.
_VECTORS = [
    ("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"),
    ("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"),
    ("fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"),
]  # fmt: skip


@pytest.mark.parametrize(("public", "message", "signature"), _VECTORS)
def test_signatures_of_the_standard(public: str, message: str, signature: str) -> None:
    key, text, value = bytes.fromhex(public), bytes.fromhex(message), bytes.fromhex(signature)
    assert signed(key, text, value)
    assert not signed(key, text + b"x", value)
    assert not signed(key, text, value[:32] + bytes([value[32] ^ 1]) + value[33:])
    assert public_key(public_pem(key)) == key


def test_a_bundle_is_intact_as_a_zip_and_unpacked_and_by_the_file_inside_it(tmp_path: Path) -> None:
    bundle = whole_bundle()
    found = check(str(bundle))
    assert found.faults == []
    assert verdict(found) == "intact, signer and latest head not confirmed"
    with zipfile.ZipFile(bundle) as packed:
        packed.extractall(tmp_path / "out")
    assert check(str(tmp_path / "out")).faults == []
    inside = tmp_path / "out/disclosure/data/verify.py"
    told = subprocess.run([sys.executable, "-I", str(inside)], capture_output=True, text=True, check=True, cwd="/")
    assert told.stdout.startswith("intact, signer and latest head not confirmed\n")
    (tmp_path / "out/disclosure/data/extra.txt").write_text("x")
    told = subprocess.run([sys.executable, "-I", str(inside)], capture_output=True, text=True, cwd="/")
    assert told.returncode == 1
    assert "data/extra.txt: is unlisted" in told.stdout


def test_the_head_that_was_told_is_held_against_the_ledger() -> None:
    bundle = whole_bundle()
    ledger = check(str(bundle)).ledger
    assert ledger is not None
    size = len(ledger.leaves)
    line = f"evidence-ledger/{ledger.ledger} {{}} {{}}"
    assert verdict(check(str(bundle), head=line.format(5, ledger.root(5)))) == "intact, signer not confirmed"
    assert check(str(bundle), head=line.format(5, ledger.root(4))).faults[0].message.startswith("two histories at 5 entries")
    assert check(str(bundle), head=line.format(size + 1, ledger.root(4))).faults[0].message == f"rolled back from {size + 1} to {size} entries"


def test_it_runs_on_python_3_8_as_the_readme_says() -> None:
    """Its syntax, by Python's own parser; and no type that 3.8 cannot subscript when the file runs."""
    tree = ast.parse(verifier_source(), feature_version=(3, 8))
    annotations = {
        id(inner) for node in ast.walk(tree) for held in (getattr(node, "annotation", None), getattr(node, "returns", None)) if held
        for inner in ast.walk(held)
    }  # fmt: skip
    running = [n for n in ast.walk(tree) if isinstance(n, ast.Subscript) and id(n) not in annotations]
    assert not [n for n in running if isinstance(n.value, ast.Name) and n.value.id in ("dict", "list", "set", "tuple", "frozenset")]
    newer = {"removeprefix", "removesuffix", "file_digest", "bit_count"}  # of 3.9 to 3.11
    assert not newer & {n.attr for n in ast.walk(tree) if isinstance(n, ast.Attribute)}
