"""``evidence waveform``: what a file holds, what is read from a recorded trace."""

import json
import shutil

import pytest

import commands
from van import NAME, van


@pytest.fixture
def evidence(tmp_path):
    def run(*words, code=0):
        done = commands.evidence("--workspace", tmp_path / "shop", "waveform", *words)
        assert done.returncode == code, f"{done.returncode}\n{done.stdout}\n{done.stderr}"
        return done

    return run


def test_look_says_what_a_file_holds(evidence, tmp_path):
    path = tmp_path / "scope.txt"
    rows = "".join(f"{n * 0.5:.1f};{12.6 - n:.1f}\n".replace(".", ",") for n in range(40))
    path.write_text("recorder 4\nTime;Battery\n(ms);(V)\n" + rows + "20,0;---\n", "utf-16")
    said = evidence("look", path).stdout
    assert "40 rows from line 4 on, semicolons between columns, decimal sign ','" in said
    assert "1 row is no numbers (line 44)" in said
    assert "Battery   V      -26.4    12.6" in said


@pytest.mark.parametrize(("content", "told"), [(b"Dear sir", "no rows of numbers"), (b"", "no rows of numbers")])
def test_look_at_something_else(evidence, tmp_path, content, told):
    (tmp_path / "letter.txt").write_bytes(content)
    assert told in evidence("look", tmp_path / "letter.txt", code=2).stderr
    assert "letter.txt" in evidence("look", tmp_path / "letter.txt", code=2).stderr
    assert "Traceback" not in evidence("look", tmp_path / "nothing.txt", code=2).stderr


def test_read_shows_numbers_and_reasons_and_records_only_with_a_reason(evidence, tmp_path):
    shutil.rmtree(tmp_path / "shop", ignore_errors=True)
    van(tmp_path)
    said = evidence("read", NAME, "wave-compression").stdout
    assert "The record has the same." in said
    assert "cannot be read" in said
    assert "212.00 ± 0.14 rpm" in said
    assert "amended" not in said
    assert "Waveform 2 amended." in evidence("read", NAME, "waveform 2", "--reason", "a later version").stdout
    found = json.loads(evidence("read", NAME, "wave-pump", "--json").stdout)
    assert {f["feature"] for f in found["features"]} == {"ripple_frequency", "ripple_count", "pump_speed", "mean_current"}
    assert "no such waveform" in evidence("read", NAME, "exhibit 1", code=2).stderr
