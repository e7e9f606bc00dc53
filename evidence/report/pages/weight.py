"""How a band comes about, how firm it is, and what the same findings say under other explanations."""

from __future__ import annotations

from fractions import Fraction

from evidence.model.base import say
from evidence.model.kinds import enumerated
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.figures import ratio
from evidence.report.given import ReportInput
from evidence.report.phrasing import NOT_MEANT, capital, first_up, names_of, sentence, to_owner, whole_words
from evidence.rules.assessment import Candidate, Experiment, Versus, Weight
from evidence.rules.weighing import SCALE_SOURCE

_NAME_LONG, _MOST_RIVALS, _MOST_FALLS = 110, 5, 8
_LIMBS = (Column("Limb", 1.4), Column("Strongest present", 3), Column("Worst absent", 3), Column("Ratio", 1, "right"))
_CEILINGS = (Column("Ceiling", 5), Column("Holds at", 1.6), Column("Binding here", 1.2))
_RIVALS = (Column("Held against", 5), Column("Ratio", 1.5, "right"), Column("In words", 2.6))
_FALLS = (Column("Without", 5.2), Column("the words would be", 2.2))
_CHANGES = (Column("Still open", 4.4), Column("Met, or excluded", 2.2), Column("Not met, or supported", 2.2))
_PAIRS = (Column("The same test", 3.4), Column("Before", 2.1), Column("After", 2.1), Column("Result", 1.4))


def weighing(candidate: Candidate) -> list[Block]:
    """From the limbs to the words, and how firm they are."""
    weight = candidate.weight
    blocks: list[Block] = [Heading("How the band comes about")]
    if any(w.present or w.absent for w in weight.limbs):
        blocks.append(Table(_LIMBS, _limbs(candidate)))
    else:
        text = "No finding of departure, link or effect is met, and none is absent: nothing weighs either way."
        blocks.append(Para(text))
    blocks.append(Para(f"{_words(weight)} {sentence(weight.statement)} {NOT_MEANT}"))
    if candidate.ceilings:
        rows = tuple(
            Row((sentence(to_owner(c.reason, candidate)), c.at, "yes" if c.holds else "no")) for c in candidate.ceilings
        )
        blocks.append(Table(_CEILINGS, rows))
    if any(w.present or w.absent for w in weight.limbs):
        blocks.append(Para(weight.break_even_words, head="Even odds."))
    return blocks + _beside(candidate.versus) + _firmness(candidate)


def _limbs(candidate: Candidate) -> tuple[Row, ...]:
    weight, names = candidate.weight, names_of(candidate)

    def named(number: str, value: Fraction) -> str:
        return f"{capital(whole_words(names.get(number, number), _NAME_LONG))}: {ratio(value)}" if number else ""

    rows = [
        Row((first_up(w.words), named(w.present, w.present_ratio) or "nothing met",
             named(w.absent, w.absent_ratio) or "nothing absent", ratio(w.product)))
        for w in weight.limbs
    ]  # fmt: skip
    capped = ", capped" if weight.capped else ""
    rows.append(Row((f"Together, at the low end{capped}", "", "", weight.low_printed), strong=True))
    return tuple(rows)


def _words(weight: Weight) -> str:
    if weight.low == weight.high:
        told = f"The ratio alone would read: {weight.scale_words}."
    else:
        told = (
            f"The ratio is at least {weight.low_printed}, {weight.printed} by the grades as they stand, and at most "
            f"{weight.high_printed}. The low end alone would read: {weight.scale_words}."
        )
    return told + (" What rests on a person's word alone supports nothing at the low end." if weight.by_word else "")


def _beside(versus: tuple[Versus, ...]) -> list[Block]:
    listed = [v for v in versus if v.mechanism]
    if not listed:
        return []
    rows = tuple(Row((capital(v.title), v.printed, v.words)) for v in versus[: _MOST_RIVALS + 1])
    more = f" {len(listed) - _MOST_RIVALS} more stand further off." if len(listed) > _MOST_RIVALS else ""
    note = (
        "Every explanation for which anything was answered is held against every other on the same record. A ratio above one "
        f"speaks for this explanation, one below for the other; its low end carries the words.{more}"
    )
    return [Heading("The same findings under another explanation"), Table(_RIVALS, rows), Para(note, tone="small")]


def _firmness(candidate: Candidate) -> list[Block]:
    blocks: list[Block] = []
    if candidate.falls:
        names = names_of(candidate)
        rows = [
            Row((f"{f.what}: {f.text}" if f.what not in names else capital(f.text), f.band))
            for f in candidate.falls[:_MOST_FALLS]
        ]
        more = len(candidate.falls) - len(rows)
        rows += [Row((f"… and {more} more", ""))] if more else []
        blocks += [Heading(f"What the words “{candidate.weight.band}” hang on"), Table(_FALLS, tuple(rows))]
    elif candidate.weight.side == "mechanism":
        blocks.append(Para("The words hang on no single record and on no single finding.", head="How firm it is."))
    if candidate.changes:
        open_ones = tuple(
            Row((capital(("All together: " if len(c.what) > 1 else "") + c.text), c.if_met or "no change", c.if_not or "no change"))
            for c in candidate.changes
        )  # fmt: skip
        blocks += [Heading("What would change the opinion"), Table(_CHANGES, open_ones)]
    return blocks


def scale(given: ReportInput) -> list[Block]:
    """The table of words with its source, the grades, the rules used and their sources."""
    assessment = given.assessment
    blocks: list[Block] = [Heading("The table of words, and the grades")]
    blocks.append(Table((Column("Ratio", 1), Column("Words", 3)), tuple(Row(pair) for pair in assessment.scale)))
    blocks.append(Para(SCALE_SOURCE, tone="small"))
    grades = "; ".join(f"{grade} {number}" for grade, number in assessment.grades)
    blocks.append(
        Para(f"Grades and their working numbers: {grades}. They are judgements written down beforehand, so that two people "
             "reach the same result from the same record. They are not measured frequencies. Where no range is given with a "
             "source, “about as often as not” is taken to lie anywhere from “now and then” to “normally there”.",
             tone="small")
    )  # fmt: skip
    if assessment.notes:
        blocks.append(Bullets(tuple(assessment.notes)))
    packs = "; ".join(f"{p.title} ({p.id}, version {p.version}, {p.mechanisms} mechanisms)" for p in assessment.packs)
    blocks.append(Para(packs or "none", head="Rules used.", tone="small"))
    sources = list(dict.fromkeys(s for c in assessment.candidates for s in c.sources))
    if sources:
        columns = (Column("Source", 1), Column("What it is", 4.5), Column("Status", 1.4))
        blocks.append(Table(columns, tuple(Row((key, text, say(status))) for key, text, status in sources)))
    return blocks


def experiments(given: ReportInput) -> Section | None:
    """The same tests before and after what was changed."""
    made = given.assessment.experiments
    if not made:
        return None
    note = (
        "Whatever was changed on the vehicle is also an experiment: the same test before and after it shows what the change did, as "
        "long as it was the only one in between. Where several lie between two tests, that is said."
    )
    blocks: list[Block] = [Para(note, tone="small")]
    for experiment in made:
        blocks += _experiment(experiment)
    return Section("The same tests before and after a change", tuple(blocks))


def _experiment(made: Experiment) -> list[Block]:
    blocks: list[Block] = [Heading(f"{enumerated(made.interventions)}: {made.text}")]
    if made.pairs:
        blocks.append(Table(_PAIRS, tuple(Row((capital(p.what), p.before, p.after, p.told)) for p in made.pairs)))
    told = tuple(
        sentence(p.text) + (f" ({enumerated(p.records)})" if p.records else "") for p in made.told
    )  # fmt: skip
    if told:
        blocks.append(Bullets(told))
    return blocks
