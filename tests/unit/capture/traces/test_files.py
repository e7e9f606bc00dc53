import math
import random
from itertools import pairwise

import pytest
from evidence.capture.traces.envelope import read_columns
from evidence.capture.traces.layout import columns_of, rows_in


@pytest.mark.parametrize(
    ("raw", "names", "units", "delimiter", "decimal", "first_row"),
    [
        (b"t,v\n0,1.5\n1,1.6\n", ("t", "v"), ("", ""), ",", ".", 2),
        (b"t;v\r\n0;1,5\r\n1;1,6\r\n", ("t", "v"), ("", ""), ";", ",", 2),
        (b"t\tv\n0\t1,5\n1\t1,6\n", ("t", "v"), ("", ""), "\t", ",", 2),
        (b"t,v\n(ms),(V)\n0,1\n1,2\n", ("t", "v"), ("ms", "V"), ",", ".", 3),
        (b"t,v\nms,V\n0,1\n1,2\n", ("t", "v"), ("ms", "V"), ",", ".", 3),
        (b"Time (s),Coil A [V]\n0,1\n1,2\n", ("Time", "Coil A"), ("s", "V"), ",", ".", 2),
        (b"recorder 3\nrate: 10 kHz, 2 channels, x\n\nt,v\n0,1\n1,2\n", ("t", "v"), ("", ""), ",", ".", 5),
        (b"0,1\n1,2\n", ("column 1", "column 2"), ("", ""), ",", ".", 1),
        (b"v,v\n0,1\n1,2\n", ("v", "v (2)"), ("", ""), ",", ".", 2),
        (b"\xef\xbb\xbft,v\n0,1\n1,2\n", ("t", "v"), ("", ""), ",", ".", 2),
        ("\ufefft;v\n0;1,5\n1;1,6\n".encode("utf-16-le"), ("t", "v"), ("", ""), ";", ",", 2),
        ("\ufefft;v\n0;1,5\n1;1,6\n".encode("utf-16-be"), ("t", "v"), ("", ""), ";", ",", 2),
        ("t;v\n0;1,5\n1;1,6\n".encode("utf-16-le"), ("t", "v"), ("", ""), ";", ",", 2),
        (b'"t","v"\n"0","1,5"\n"1","1,6"\n', ("t", "v"), ("", ""), ",", ",", 2),
    ],
)
def test_how_the_file_is_written(put, raw, names, units, delimiter, decimal, first_row):
    path = put("w.csv", raw)
    layout = columns_of(path)
    assert (layout.names, layout.units, layout.delimiter, layout.decimal, layout.first_row) == (
        names, units, delimiter, decimal, first_row,
    )  # fmt: skip
    trace = read_columns(path, names[0], [names[1]])
    assert (trace.rows, trace.bad_rows) == (2, 0)
    assert rows_in(path, layout) == 2


@pytest.mark.parametrize(
    "raw", [b"", b"hello\nworld\n", b"1\n2\n3\n", b"Dear sir, we, the owners, object\n", b"\0\0\0\0"]
)
def test_what_is_no_table_of_numbers(put, raw):
    with pytest.raises(ValueError, match="no rows of numbers"):
        columns_of(put("w.csv", raw))


def test_no_single_sample_is_lost(put):
    """50,000 rows in 100 buckets: one spike up in one row, one down in another, and the values of each bucket by hand."""
    noise = random.Random(7)
    values = [noise.gauss(0, 1) for _ in range(50_000)]
    values[12_345], values[40_001] = 99.0, -77.0
    rows = "".join(f"{i / 1000:.3f},{v:.6f},{i}\n" for i, v in enumerate(values))
    trace = read_columns(put("w.csv", b"t,v,n\n" + rows.encode()), "t", ["v", "n"], buckets=100)
    v, n = trace.channels
    assert len(trace.times) == len(v.low) == len(v.high) == 100
    assert (max(v.high), min(v.low)) == (99.0, -77.0)
    assert (trace.start, trace.end, trace.rows) == (0.0, 49.999, 50_000)
    starts = [int(x) for x in n.low] + [50_000]
    for at, (first, after) in enumerate(pairwise(starts)):
        part = [round(x, 6) for x in values[first:after]]
        assert (v.low[at], v.high[at]) == (min(part), max(part))
        assert n.high[at] == after - 1
        assert trace.times[at] == first / 1000
    assert max(b - a for a, b in pairwise(starts)) <= 600  # 500 in each, but for whole runs


def test_bad_rows_are_counted_and_named(put):
    good = [f"{i},{i * 2}" for i in range(1000)]
    for at, text in {10: "10,nan", 20: "20,", 30: "x,y", 40: "40", 50: "50,=1+1", 60: "60,inf", 70: "70,1e999"}.items():
        good[at] = text
    trace = read_columns(put("w.csv", ("t,v\n" + "\n".join(good) + "\n\n").encode()), "t", ["v"])
    assert (trace.rows, trace.bad_rows) == (993, 7)
    assert trace.bad_lines == (12, 22, 32, 42, 52, 62, 72)


def test_a_line_without_end_is_one_bad_row(tmp_path):
    """Stands for a line of a gigabyte: 60 MB here, read in blocks of 2 MB, kept nowhere."""
    import tracemalloc

    path = tmp_path / "w.csv"
    with path.open("wb") as out:
        out.write(b"t,v\n0,1\n1,2\n")
        for _ in range(60):
            out.write(b"9" * 1_000_000)
        out.write(b"\n2,3\n3,4\n")
    tracemalloc.start()
    trace = read_columns(path, "t", ["v"])
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (trace.rows, trace.bad_rows, trace.bad_lines) == (4, 1, (4,))
    assert trace.channels[0].high == (1.0, 2.0, 3.0, 4.0)
    assert peak < 40_000_000


def test_two_million_rows_in_bounded_memory(tmp_path):
    import tracemalloc

    path = tmp_path / "w.csv"
    block = "".join(f"{i % 100};{'12,5' if i % 2 else '0,24'}\n" for i in range(100_000)).encode()
    with path.open("wb") as out:
        out.write(b"n;v\n")
        for _ in range(20):
            out.write(block)
    assert rows_in(path, columns_of(path)) == 2_000_000
    tracemalloc.start()
    trace = read_columns(path, None, ["v"])
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (trace.rows, trace.bad_rows, trace.start, trace.end) == (2_000_000, 0, 0.0, 1_999_999.0)
    assert set(trace.channels[0].low) == {0.24}
    assert set(trace.channels[0].high) == {12.5}
    assert peak < 60_000_000


def test_time_that_goes_back_is_counted(put):
    trace = read_columns(put("w.csv", b"t,v\n0,1\n2,1\n1,1\n3,1\n0,1\n"), "t", ["v"])
    assert trace.steps_back == 2
    assert (trace.start, trace.end) == (0.0, 3.0)


def test_unknown_column_suggests_the_nearest(put):
    path = put("w.csv", b"time,coil A\n0,1\n1,2\n")
    with pytest.raises(ValueError, match="did you mean 'coil A'"):
        read_columns(path, "time", ["coilA"])
    with pytest.raises(ValueError, match="no column 'zeit'"):
        read_columns(path, "zeit", ["coil A"])


def test_a_column_of_words_is_no_channel(put):
    path = put("w.csv", b"t,v,w\n0,1,\n1,2,\n2,3,\n")
    with pytest.raises(ValueError, match="none of the 3 rows"):
        read_columns(path, "t", ["w"])


def test_values_with_exponent_and_sign(put):
    trace = read_columns(put("w.csv", b"t;v\n-1e-3;+2,5E+1\n0;-,5\n"), "t", ["v"])
    assert trace.start == -0.001
    assert trace.channels[0].high == (25.0, -0.5)
    assert not math.isnan(trace.channels[0].low[0])
