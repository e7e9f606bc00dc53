import signal
import time

import pytest
from evidence.capture import limited
from evidence.capture.limited import Answer, run_limited

from foreign_files import pdf, picture


@pytest.fixture(autouse=True)
def fresh():
    limited.end_children()
    yield
    limited.end_children()


def test_a_child_is_kept_for_the_next_job(put):
    path = put("a.pdf", pdf("one"))
    assert run_limited("pdf_facts", path).facts["pages"] == 1
    (child,) = limited._idle
    assert run_limited("pdf_facts", path).facts["pages"] == 1
    assert limited._idle == [child]
    assert child.jobs == 2


def test_too_slow_is_killed_and_the_next_job_works(put):
    path = put("a.pdf", pdf("one"))
    run_limited("pdf_facts", path)
    (child,) = limited._idle
    child._process.send_signal(signal.SIGSTOP)  # as a library that spins
    started = time.monotonic()
    assert run_limited("pdf_facts", path, seconds=0.5) == Answer(problem="stopped after 0.5 seconds")
    assert time.monotonic() - started < 30  # a child that is not killed would never answer
    assert limited._idle == []
    assert run_limited("pdf_facts", path).facts["pages"] == 1


def test_a_crash_ends_the_child_only(put):
    path = put("a.pdf", pdf("one"))
    run_limited("pdf_facts", path)
    limited._idle[0]._process.send_signal(signal.SIGSEGV)
    limited._idle[0]._process.wait()
    assert run_limited("pdf_facts", path).problem == "its reading program crashed"
    assert run_limited("pdf_facts", path).problem == ""


def test_memory_is_bounded(put, monkeypatch):
    path = put("a.png", picture("PNG", size=(4000, 4000)))
    arguments = {"type": "image/png", "box": [400, 300], "orientation": 1}
    assert run_limited("picture_preview", path, **arguments).problem == ""
    monkeypatch.setattr(limited, "MEGABYTES", 30)  # the picture needs 48
    assert run_limited("picture_preview", path, **arguments).problem == "too large"


def test_a_link_is_not_followed_in_the_child(tmp_path, put):
    put("a.pdf", pdf("one"))
    (tmp_path / "link.pdf").symlink_to(tmp_path / "a.pdf")
    assert "symbolic link" in run_limited("pdf_facts", tmp_path / "link.pdf").problem


def test_a_name_that_is_not_utf8(tmp_path):
    import os

    path = tmp_path / os.fsdecode(b"caf\xe9.pdf")
    path.write_bytes(pdf("one"))
    assert run_limited("pdf_facts", path).facts["pages"] == 1


def test_an_interrupted_job_leaves_no_child(put, monkeypatch):
    path = put("a.pdf", pdf("one"))
    run_limited("pdf_facts", path)
    (child,) = limited._idle

    def interrupted(request):
        raise KeyboardInterrupt

    monkeypatch.setattr(child, "_exchange", interrupted)
    with pytest.raises(KeyboardInterrupt):
        run_limited("pdf_facts", path)
    assert child._process.returncode is not None
    assert limited._idle == []
