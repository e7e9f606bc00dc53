"""Whatever a pack or a vocabulary holds, it is taken whole or refused with its faults; nothing else happens."""

import copy
from importlib.resources import files

from evidence.capture.marked_yaml import load_marked
from evidence.errors import BadPack
from evidence.rules.lint import lint
from evidence.rules.pack import Pack
from evidence.rules.reading import parse_pack
from evidence.rules.vocabulary import Vocabulary
from hypothesis import given, settings
from hypothesis import strategies as st

from build import vocabulary

VOCABULARY = vocabulary()


def raw_of(name):
    return load_marked(files("evidence.rules").joinpath(*name.split("/")).read_text(encoding="utf-8"), name).data


PACK, WORDS = raw_of("packs/ignition.yaml"), raw_of("components.yaml")


def places(node, path=()):
    yield path
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in inner:
        yield from places(value, (*path, key))


PACK_PLACES = [p for p in places(PACK) if p]
WORD_PLACES = [p for p in places(WORDS) if p]
FOREIGN = st.one_of(
    st.text(max_size=8), st.just([]), st.just({}), st.just([""]), st.just({"any": []}), st.just({"all": [{}]}),
    st.just({"change": "F4"}), st.just({"every": "coil"}), st.just(["F1", {"is": []}]), st.just("certain"),
    st.just({"measure": "voltage", "observe": "spark"}), st.just("-0"), st.just("1e9"), st.just("NaN"),
)  # fmt: skip


def changed(raw, path, value):
    altered = copy.deepcopy(raw)
    holder = altered
    for step in path[:-1]:
        holder = holder[step]
    if value is None:
        del holder[path[-1]]
    else:
        holder[path[-1]] = value
    return altered


def outcome(attempt, refusal):
    """What came of it: the value and no words, or nothing and the words of the refusal."""
    try:
        return attempt(), ""
    except refusal as err:
        return None, str(err)


@settings(max_examples=100)
@given(st.sampled_from(PACK_PLACES), st.one_of(st.none(), FOREIGN))
def test_a_changed_pack_is_taken_or_refused(path, value):
    raw = changed(PACK, path, value)
    pack, told = outcome(lambda: parse_pack(raw, file="x.yaml", vocabulary=VOCABULARY), BadPack)
    assert isinstance(pack, Pack) or "x.yaml: " in told
    if pack:
        lint(pack, VOCABULARY)


@settings(max_examples=40)
@given(st.sampled_from(WORD_PLACES), st.one_of(st.none(), FOREIGN))
def test_a_changed_vocabulary_is_taken_or_refused(path, value):
    raw = changed(WORDS, path, value)
    words, told = outcome(lambda: Vocabulary.parse(raw), BadPack)
    assert isinstance(words, Vocabulary) or "in the vocabulary\n" in told


@settings(max_examples=50)
@given(st.sampled_from(sorted(VOCABULARY.components)), st.text(max_size=12))
def test_any_text_is_a_known_name_or_a_value_error(name, noise):
    for word in (noise, name + noise, noise + ":" + name):
        found, told = outcome(lambda word=word: VOCABULARY.component(word), ValueError)
        assert found in VOCABULARY.components or "not a component known here" in told
