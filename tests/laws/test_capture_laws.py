"""Laws of capture: what was written survives, and no bytes make a reader raise or hang."""

import io
import json
import time
from itertools import accumulate, chain
from math import isfinite
from typing import get_args

import pytest
from evidence.capture.folder import DossierFolder, alike, shown
from evidence.capture.marked_yaml import Marked, load_marked
from evidence.capture.preview import make_preview
from evidence.capture.reading import read_file
from evidence.capture.scan_text import code_of_bytes, codes_in
from evidence.capture.traces.envelope import read_columns
from evidence.capture.traces.layout import columns_in, columns_of, rows_in
from evidence.capture.traces.reading import read_trace
from evidence.errors import MistakesFound
from evidence.model.exhibit import FileFacts
from evidence.model.waveform import Engine, FeatureName, Waveform
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from foreign_files import exif_of, pdf, picture

words = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Zl", "Zp"), exclude_characters="\ufeff\ufffe\uffff"),
    max_size=30,
)
yaml_ish = st.text(st.sampled_from(list("ab:- \n\t{}[],&*!|>'\"%@`#?~0.\\u\u00e9\ufeff\x00\x85\u2028")), max_size=60)


@given(st.one_of(yaml_ish, st.text(max_size=80)))
@settings(max_examples=600, deadline=None)
def test_any_text_is_read_or_gives_mistakes_with_places(text):
    try:
        marked = load_marked(text, "f.yaml")
    except MistakesFound as found:
        marked, mistakes = None, found.mistakes
    else:
        mistakes = ()
        _only_text(marked.data)
    assert marked is None or isinstance(marked.data, dict)
    assert (marked is None) == bool(mistakes)
    assert all(m.line >= 1 and m.column >= 1 and m.message for m in mistakes)


def _only_text(node):
    if isinstance(node, dict):
        assert all(type(k) is str for k in node)
        for value in node.values():
            _only_text(value)
    elif isinstance(node, list):
        for value in node:
            _only_text(value)
    else:
        assert type(node) is str


trees = st.dictionaries(
    words.filter(bool),
    st.recursive(
        words,
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(words.filter(bool), inner, max_size=4),
        max_leaves=12,
    ),
    max_size=5,
)


@given(trees)
@settings(max_examples=200, deadline=None)
def test_every_quoted_text_survives_as_written(tree):
    """JSON is YAML 1.2 (section 1.3 there); Python's own writer of JSON is the outside hand."""
    assert load_marked(json.dumps(tree, ensure_ascii=False), "f").data == tree
    assert load_marked(json.dumps(tree, ensure_ascii=False, indent=1), "f").data == tree


plain = st.from_regex(r"[A-Za-z0-9+.][A-Za-z0-9+.,/_=()-]{0,20}", fullmatch=True).filter(
    lambda s: s not in ("null", "Null", "NULL")
)


@given(st.lists(plain, min_size=1, max_size=8))
@settings(max_examples=200, deadline=None)
def test_every_plain_text_survives_as_written_and_is_found_again(values):
    text = "".join(f"k{i}: {v}\n" for i, v in enumerate(values)) + "list:\n" + "".join(f"  - {v}\n" for v in values)
    marked = load_marked(text, "f")
    lines = text.splitlines()
    for i, v in enumerate(values):
        assert marked.data[f"k{i}"] == marked.data["list"][i] == v
        for path in ((f"k{i}",), ("list", i)):
            line, column = marked.locate(path)
            assert lines[line - 1][column - 1 :] == v


@given(st.text(max_size=60))
@settings(max_examples=300)
def test_no_name_leaves_the_folder(tmp_path_factory, name):
    home = tmp_path_factory.getbasetemp() / "law-folder"
    home.mkdir(exist_ok=True)
    (home / "a.jpg").write_bytes(b"x")
    try:
        found = DossierFolder(home, Marked({}, "f", None)).resolve(name)
    except ValueError as refused:
        found, said = home / "a.jpg", str(refused)
    else:
        said = ""
    assert found.parent == home
    assert said == shown(said)


@given(st.text(max_size=60))
def test_what_is_shown_is_printable_and_tells_names_apart(name):
    out = shown(name)
    assert shown(out) == out
    if name.isprintable():
        assert out == name
    assert alike([name, name]) == []


def _samples():
    block = exif_of(
        ifd0={0x010F: "maker", 0x0112: 6, 0x0132: "2026:03:04 10:11:13"},
        exif={0x9003: "2026:03:04 10:11:12", 0x9011: "+01:00", 0x9291: "123"},
        gps={1: "N", 2: (48.0, 51.0, 29.6), 3: "E", 4: (2.0, 17.0, 40.2), 7: (9.0, 11.0, 12.0), 29: "2026:03:04"},
    )
    rows = "t;v\n(ms);(V)\n" + "".join(f"{i / 10};{i % 7},5\n".replace(".", ",") for i in range(60))
    return {
        "a.jpg": picture("JPEG", exif=block),
        "a.png": picture("PNG", exif=block),
        "a.tif": picture("TIFF", exif=block),
        "a.webp": picture("WEBP", exif=block),
        "a.csv": rows.encode(),
        "b.csv": ("\ufeff" + rows).encode("utf-16-le"),
        "a.txt": b"ECM: P0351-13 confirmed, U0100\n" * 5,
        "a.json": b'{"codes": ["P0351", {"a": [1, 2, null]}]}',
    }


def _confined_samples():
    samples = {"a.pdf": pdf("one", "two")}
    try:
        import pillow_heif
    except ImportError:
        return samples
    from PIL import Image

    out = io.BytesIO()
    pillow_heif.from_pillow(Image.linear_gradient("L").resize((64, 48)).convert("RGB")).save(out, format="HEIF")
    return {**samples, "a.heic": out.getvalue()}


SAMPLES = _samples()


@st.composite
def damaged(draw, samples):
    """A name and a damaged copy: bits flipped, cut, a part put elsewhere, or two files joined."""
    name = draw(st.sampled_from(sorted(samples)))
    raw = bytearray(samples[name])
    for _ in range(draw(st.integers(1, 4))):
        how = draw(st.sampled_from(("flip", "byte", "cut", "move", "join", "stretch")))
        at = draw(st.integers(0, max(0, len(raw) - 1)))
        if not raw:
            break
        if how == "flip":
            raw[at] ^= 1 << draw(st.integers(0, 7))
        elif how == "byte":
            raw[at : at + 4] = draw(st.sampled_from((b"\xff\xff\xff\xff", b"\0\0\0\0", b"\x7f\xff\xff\xff", b"\x80")))
        elif how == "cut":
            del raw[at:]
        elif how == "move":
            part = raw[at : at + draw(st.integers(1, 200))]
            to = draw(st.integers(0, len(raw)))
            raw[to:to] = part
        elif how == "join":
            raw[at:] = samples[draw(st.sampled_from(sorted(samples)))]
        else:
            raw[at:at] = draw(st.binary(max_size=40))
    return name, bytes(raw)


def _read(folder, name, raw):
    path = folder / f"law-{name}"
    path.write_bytes(raw)
    started = time.monotonic()
    facts = read_file(path, name)
    make_preview(path, facts, folder / "law-out.jpg", box=(40, 30))
    assert time.monotonic() - started < 25  # two jobs of ten seconds at most, and some slack
    assert FileFacts.model_validate(facts.model_dump()) == facts
    stored = json.dumps(facts.model_dump(mode="json"), ensure_ascii=False)
    stored.encode("utf-8")  # no lone surrogate: the record would refuse it
    assert "\\u0000" not in stored
    return facts


@given(damaged(SAMPLES))
@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_damage_makes_a_reader_raise(tmp_path_factory, sample):
    _read(tmp_path_factory.getbasetemp(), *sample)


@given(damaged(_confined_samples()))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_damage_makes_a_confined_reader_raise(tmp_path_factory, sample):
    _read(tmp_path_factory.getbasetemp(), *sample)


@pytest.mark.campaign
@given(damaged({**SAMPLES, **_confined_samples()}))
@settings(max_examples=5000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_damage_makes_a_reader_raise_in_the_long_run(tmp_path_factory, sample):
    _read(tmp_path_factory.getbasetemp(), *sample)


@given(st.binary(max_size=300))
@settings(max_examples=300, deadline=None)
def test_any_bytes_have_facts(tmp_path_factory, raw):
    _read(tmp_path_factory.getbasetemp(), "x", raw)


@given(
    st.lists(st.floats(-1e6, 1e6, allow_nan=False), min_size=1, max_size=400),
    st.integers(1, 50),
    st.sampled_from(",;\t"),
)
@settings(max_examples=150, deadline=None)
def test_the_envelope_holds_every_sample_and_nothing_else(tmp_path_factory, values, buckets, delimiter):
    path = tmp_path_factory.getbasetemp() / "law.csv"
    path.write_text(f"t{delimiter}v\n" + "".join(f"{i}{delimiter}{v!r}\n" for i, v in enumerate(values)))
    trace = read_columns(path, "t", ["v"], buckets=buckets)
    (channel,) = trace.channels
    assert trace.rows == len(values)
    assert len(trace.times) == len(channel.low) == min(buckets, len(values))
    starts = [int(t) for t in trace.times] + [len(values)]
    for at in range(len(trace.times)):
        part = values[starts[at] : starts[at + 1]]
        assert (channel.low[at], channel.high[at]) == (min(part), max(part))


@given(st.binary(max_size=400))
@settings(max_examples=300, deadline=None)
def test_any_head_is_a_table_or_none(head):
    try:
        layout = columns_in(head)
    except ValueError:
        return
    assert len(layout.names) == len(layout.units) == len(set(layout.names)) >= 2


# What recorders and people write, and what neither should: cells, separators, line ends, quotation marks, odd bytes.
cells = st.sampled_from(
    [b"0", b"1", b"-2.5", b"3,5", b"+1e3", b" 7 ", b"---", b"\xe2\x88\x9e", b"nan", b"inf", b"1e999", b"", b'"', b'"4"', b'"5', b"0x10",
     b"1_0", b"=1+1", b"\x00", b"\xff", b"9" * 50, b"#", b"V", b"(ms)"]
)  # fmt: skip
glue = st.sampled_from([b",", b";", b"\t", b"\n", b"\r\n", b"\r", b"\n\n"])
tables = st.lists(st.tuples(cells, glue), max_size=60).map(lambda parts: b"".join(c + g for c, g in parts))
heads = st.sampled_from([b"", b"t,v\n0,1\n1,2\n2,3\n", b"t;v\n0;1,5\n1;1,6\n2;1,7\n", b"\xef\xbb\xbft\tv\n0\t1\n1\t2\n2\t3\n"])
encodings = st.sampled_from(["", "utf-16", "utf-16-le", "utf-16-be"])


@given(heads, tables | st.binary(max_size=300), encodings)
@settings(max_examples=400, deadline=None)
def test_any_file_gives_a_trace_or_one_clear_error(tmp_path_factory, head, rest, encoding):
    path = tmp_path_factory.getbasetemp() / "any.csv"
    raw = head + rest
    path.write_bytes(raw.decode("latin-1").encode(encoding) if encoding else raw)
    told = ""
    try:
        layout = columns_of(path)
        trace = read_columns(path, layout.names[0], layout.names[1:], buckets=7)
    except ValueError as err:
        told = str(err) or "nothing"
    if told:
        assert told.startswith(("no rows of numbers", "none of the "))
        return
    assert 1 <= trace.rows <= rows_in(path, layout)
    assert trace.rows + trace.bad_rows <= rows_in(path, layout) + 1
    assert len(trace.bad_lines) == min(trace.bad_rows, 20)
    assert list(trace.bad_lines) == sorted(trace.bad_lines)
    assert all(line >= layout.first_row for line in trace.bad_lines)
    assert all(map(isfinite, (*trace.times, *chain(*(c.low + c.high for c in trace.channels)))))


@given(
    st.lists(st.tuples(st.integers(0, 30), st.integers(-50, 50)), min_size=2, max_size=300), st.sampled_from([0, 1, 7]),
    st.sampled_from(["V", "A", "kPa"]), st.none() | st.sampled_from(["high", "low"]), st.none() | st.just("3"),
)  # fmt: skip
@settings(max_examples=150, deadline=None)
def test_any_rows_give_features_or_why_not(tmp_path_factory, rows, noise, unit, active, threshold):
    """Whatever the values: a finite number with limits, or a reason, for everything asked; never a traceback."""
    path = tmp_path_factory.getbasetemp() / "rows.csv"
    times = accumulate(step for step, _ in rows)
    path.write_text("t,v\n0,0\n" + "".join(f"{t},{v * noise}\n" for t, (_, v) in zip(times, rows, strict=True)))
    asked = get_args(FeatureName)
    quantity = {"V": "voltage", "A": "current", "kPa": "pressure"}[unit]
    channel = {"column": "v", "quantity": quantity, "unit": unit, "of": "starter", "find": asked, "per_cycle": 1, "bars": [8],
               "active": active, "threshold": threshold}  # fmt: skip
    given_ = Waveform.model_validate({
        "trace": "x", "title": "t", "time_column": "t", "time_unit": "ms",
        "channels": [{k: v for k, v in channel.items() if v is not None}],
    })  # fmt: skip
    found = read_trace(path, given_, Engine(4))
    assert {f.feature for f in found.features} | {n.feature for n in found.not_read} == set(asked)
    assert not {f.feature for f in found.features} & {n.feature for n in found.not_read}
    assert all(isfinite(float(f.value)) and float(f.uncertainty or 0) >= 0 for f in found.features)
    assert all(n.why for n in found.not_read)


@given(st.integers(0, 255), st.integers(0, 255), st.none() | st.integers(0, 255))
def test_every_code_is_found_again_in_text(a, b, failure):
    code = code_of_bytes(a, b, failure)
    if code is not None:
        assert codes_in(f"x {code}, y") == (code,)
        assert codes_in(f"({code.lower().capitalize()})") == (code,)
