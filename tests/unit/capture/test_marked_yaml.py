import time

import pytest
from evidence.capture.marked_yaml import decoded, load_marked
from evidence.errors import MistakesFound


def mistakes(text):
    with pytest.raises(MistakesFound) as caught:
        load_marked(text, "dossier.yaml")
    return caught.value.mistakes


def test_every_scalar_is_the_text_that_was_written():
    # YAML 1.2 core schema, chapter 10.3: read by type these would be infinity, false, a date and two numbers
    text = "part: 06E905\ncountry: no\nday: 2026-03-02\nvalue: 0.240\nhex: 0x1F\nlist: [1_000, yes, 1e3]\n"
    assert load_marked(text, "f").data == {
        "part": "06E905", "country": "no", "day": "2026-03-02", "value": "0.240", "hex": "0x1F",
        "list": ["1_000", "yes", "1e3"],
    }  # fmt: skip


def test_quoted_null_and_blocks_are_text():
    assert load_marked('plate: "NULL"\nempty: \'\'\nnote: |\n  a\n  b\n', "f").data == {
        "plate": "NULL",
        "empty": "",
        "note": "a\nb\n",
    }


def test_places_count_from_one_and_fall_back_to_the_parent():
    marked = load_marked("title: x\nrecords:\n  - kind: exhibit\n    value: 0.2\n", "f")
    assert marked.locate(("records", 0, "value")) == (4, 12)
    assert marked.locate_key(("records", 0, "value")) == (4, 5)
    assert marked.locate(("records", 0, "value", "deeper", 3)) == (4, 12)
    assert marked.locate(("records", 0, "missing")) == (3, 5)
    assert marked.locate(("records", 7)) == (3, 3)
    assert marked.locate(()) == (1, 1)


@pytest.mark.parametrize(
    ("text", "line", "column", "words"),
    [
        ("a: 1\na: 2\n", 2, 1, "'a' stands here twice"),
        ("a: &x 1\n", 1, 4, "anchor &x"),
        ("a: b\nc: *x\n", 2, 4, "alias *x"),
        ("a: !!python/object/apply:os.system ['true']\n", 1, 4, "tag"),
        ("a: !own b\n", 1, 4, "tag"),
        ("a:\nb: 1\n", 1, 1, "has no value"),
        ("a: ~\n", 1, 4, "stands for no value"),
        ("a: [x, null]\n", 1, 8, "stands for no value"),
        ("- a\n- b\n", 1, 1, "at the top"),
        ("just words\n", 1, 1, "at the top"),
        ("", 1, 1, "empty"),
        ("# nothing\n", 1, 1, "empty"),
        ("a: 1\n---\nb: 2\n", 2, 1, "second document"),
        ("a:\n\t- x\n", 2, 1, "tab"),
        ("a: b: c\n", 1, 5, "':'"),
        ("a: 'x\n", 2, 1, "never closed"),
        ("a: {b: c\n", 2, 1, "not closed"),
        ("a: @x\n", 1, 4, "cannot start"),
        ("? [a]\n: b\n", 1, 3, "stands as a key"),
        ("a: \x01\n", 1, 4, "U+0001"),
        ('a: "\\ud800"\n', 1, 4, "U+D800"),
        ("%YAML 1.1\n---\na: b\n", 1, 1, "version"),
        ("a: " + "[" * 70 + "]" * 70, 1, 67, "deeper than 64"),
    ],
)
def test_each_mistake_has_its_place(text, line, column, words):
    found = mistakes(text)
    assert (found[0].line, found[0].column) == (line, column)
    assert words in found[0].message
    assert found[0].file == "dossier.yaml"


def test_all_mistakes_at_once():
    assert [m.line for m in mistakes("a: 1\na: 2\nb:\nc: &x 3\nd: *x\n")] == [2, 3, 4, 5]


def test_64_levels_are_read():
    deep = load_marked("a: " + "[" * 63 + "x" + "]" * 63, "f").data
    levels = 1
    node = deep["a"]
    while isinstance(node, list):
        levels, node = levels + 1, node[0]
    assert (levels, node) == (64, "x")


def test_alias_bomb_costs_nothing():
    bomb = "a0: &a0 [x, x]\n" + "".join(f"a{i}: &a{i} [*a{i - 1}, *a{i - 1}]\n" for i in range(1, 40))
    started = time.process_time()
    assert len(mistakes(bomb)) > 40
    assert time.process_time() - started < 5


def test_more_than_a_hundred_mistakes_are_not_listed():
    found = mistakes("".join(f"k{i}:\n" for i in range(500)))
    assert len(found) == 101
    assert "more mistakes" in found[-1].message


def test_too_large_is_refused_before_reading():
    assert "5,000,000" in mistakes("a: " + "x" * 5_000_000)[0].message
    with pytest.raises(MistakesFound, match="5,000,000"):
        decoded(b"a" * 5_000_001, "f")


def test_not_utf8_names_the_place():
    with pytest.raises(MistakesFound) as caught:
        decoded("a: 1\nb: café\n".encode("latin-1"), "f")
    (mistake,) = caught.value.mistakes
    assert (mistake.line, mistake.column) == (2, 7)
    assert "0xE9" in mistake.message


def test_byte_order_mark_is_no_part_of_the_first_key():
    assert load_marked(decoded(b"\xef\xbb\xbfa: 1\n", "f"), "f").data == {"a": "1"}


def test_five_thousand_records_are_read_in_order():
    record = "  - kind: measurement\n    name: m{0}\n    value: 0.240\n    unit: V\n    note: \"key on, {0}\"\n"
    marked = load_marked("records:\n" + "".join(record.format(i) for i in range(5000)), "f")
    assert len(marked.data["records"]) == 5000
    assert marked.data["records"][4321] == {
        "kind": "measurement", "name": "m4321", "value": "0.240", "unit": "V", "note": "key on, 4321",
    }  # fmt: skip
    assert marked.locate(("records", 4321, "name")) == (2 + 5 * 4321 + 1, 11)
