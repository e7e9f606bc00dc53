"""The catalogue of mistakes that sink a claim: in words, why, whether each can be mended, and how it is avoided.

Told before they are made by :mod:`evidence.rules.planning.guards`; asked about when a step is recorded by
:mod:`evidence.usecases.heeding`; listed afterwards by :mod:`evidence.claim.mistakes.made`. Common practice of the
trade, no source, save where one is named.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from evidence.model.despite import MISTAKE_CODES, MistakeCode

Mendable = Literal["yes", "partly", "hardly", "no"]


_MENDED: Final[Mapping[Mendable, str]] = MappingProxyType({
    "yes": "Can be mended", "partly": "Can be mended in part", "hardly": "Can hardly be mended",
    "no": "Cannot be mended; what is left",
})  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One mistake of the trade."""

    code: MistakeCode
    words: str  # what was done, as a heading
    why: str  # it sinks a claim
    mendable: Mendable
    mend: str  # how, as far as it can be
    guard: str  # how it is avoided, as an instruction

    def mending(self) -> str:
        """Whether it can be mended, and how."""
        return f"{_MENDED[self.mendable]}: {self.mend}"


_ROWS: tuple[tuple[MistakeCode, str, str, Mendable, str, str], ...] = (
    ("put_right_unseen", "Put right before it was on record",
     "Put right first, the departure is one person's word, and no more than moderate support can be reached.",
     "partly", "Statements of those who saw it, marks left on the parts, the same place on the side that nobody touched.",
     "Put nothing right, refit, clean or exchange nothing until what can be seen only now is on record."),
    ("part_let_go", "A part thrown away, or gone back as a core",
     "What is gone cannot be examined by the other side, and that may be held against whoever let it go.",
     "hardly", "Pictures and measurements of the part from before; a written agreement of all sides to its release.",
     "Let no removed part go back as a core, to the owner or to scrap; note when a core is due."),
    ("codes_cleared", "Codes cleared without a stored read-out",
     "Once cleared, time and distance of the first fault are gone.",
     "partly", "Freeze frames and counters of modules that were not cleared; the distance since clearing.",
     "Store a scan of all modules before any code is cleared, any module written to or the battery disconnected."),
    ("no_time_base", "No time base",
     "The order of events cannot be shown when clocks differ by hours and nobody wrote down by how much.",
     "yes", "Hold each device against a reference clock now and record the difference, stated as done afterwards.",
     "Check the clock of every camera and instrument against a reference once, and record the difference."),
    ("no_odometer", "No odometer reading",
     "How far it ran since the prior work is unknown, and an argument from wear cannot be met.",
     "partly", "Other papers that carry a reading: a test certificate, a tow ticket, an earlier invoice.",
     "Photograph the odometer on arrival, and ask for its reading at the prior work and at the first sign."),
    ("instrument_unproven", "An instrument not named, or not shown to be right",
     "A number from an instrument without a name and a check carries no verdict.",
     "yes", "Check the instrument against a reference now, and say that it was done afterwards.",
     "Enter the instrument first: type, serial, and its calibration or its check against a reference."),
    ("reading_unrepeatable", "A reading without its conditions",
     "A number without load, conditions and point cannot be repeated by the other side.",
     "no", "Only by measuring again, if the state is still there.",
     "Write down with every reading the point, the load, the conditions and the unit."),
    ("one_part_only", "Only one of several like parts measured",
     "Without a twin reading the departure may be this vehicle's normal; one part alone never answers for all.",
     "yes", "Measure the others in the same way, if nothing was altered since.",
     "Measure every like part and the other side too, in the same way."),
    ("owner_unheard", "The owner's own attempts not written down beforehand",
     "What comes up later about his own attempts takes the trust from all the rest.",
     "yes", "Take his declaration now, and say in it that findings had been shown to him.",
     "Take the owner's declaration before any finding is shown to him."),
    ("hearsay", "Something that was only told",
     "What somebody is said to have said cannot be tested.",
     "yes", "A message, a paper, or a statement of the one who knows it himself.",
     "Note of every fact how it is known, and ask for a paper where it was only told."),
    ("no_notice", "Altered before the other side was told and could look",
     "Whoever could not look calls it unfair; in some places the claim is lost by it.",
     "no", "Give notice of what is still unaltered, and offer the parts for inspection.",
     "Give the prior repairer notice and a date to come and look before anything is altered."),
    ("harsh_words", "A letter that accuses or insults",
     "It turns an answer into a refusal, and may itself be answered by a claim.",
     "yes", "A further letter in neutral words that says what was found and what is asked.",
     "Write what was found and what is asked, in neutral words; accuse nobody."),
    ("several_changes", "Several changes between two tests",
     "After two changes between two tests nobody can say which of them mattered.",
     "no", "Undo one of them and test again, if that is possible without harm.",
     "Change one thing at a time, with the same test by the same instrument before and after it."),
    ("uncoded_module", "An uncoded module used as a test",
     "An uncoded one proves nothing and may itself stop the engine.",
     "yes", "The same test again with a unit coded to this vehicle.",
     "Try a substitute module only coded to this vehicle, and note part number and coding of every one that is tried."),
    ("picture_stripped", "A picture without its own data",
     "Messages and screen copies strip the time and the device, and quality with them.",
     "yes", "Take in the original from the device that took it.",
     "Take pictures in from the device that took them, never from a message; store read-outs as files, not as screen copies."),
    ("picture_altered", "A picture that was changed after it was taken",
     "It opens the whole set to the question of what else was changed.",
     "yes", "Take in the original beside it, and record the changed one as derived from it.",
     "Keep every original as it came; mark or crop only copies that name their original."),
    ("custody_gap", "A gap in the custody",
     "While nobody is on record as holding it, anything could have happened to it.",
     "partly", "Statements of those who had it, and seals that were whole.",
     "Record every hand-over of vehicle and parts when it is made, with both names."),
    ("driven_on", "Driven on after a warning",
     "The damage that driving on added is not the prior repairer's.",
     "no", "Shown as a share in the loss, not hidden.",
     "Ask whether it was driven on after a lamp or a noise, and say that it must not be driven now."),
    ("cost_unexplained", "A cost by the day that nobody explained",
     "What is not shown to be reasonable is cut.",
     "yes", "Say from when to when, and why it took that long; add the offers that were compared.",
     "Keep hire and storage short, and write down why each took as long as it did."),
    ("one_lump_sum", "Rework and resulting damage in one sum",
     "An insurer who does not cover the rework can then only refuse all.",
     "yes", "An invoice or a time sheet with a sum for each line.",
     "Put a sum on every line, and keep rework, resulting damage and diagnosis apart."),
    ("rivals_untested", "Other explanations not tested",
     "It looks as if only what agrees was looked for.",
     "yes", "Test them now, if the parts were kept.",
     "Test the other explanations too, above all those that point at the owner and at the present repairer."),
    ("interest_unstated", "An opinion by one who profits, who does not say so",
     "When it comes out, the opinion falls, and what rests on it.",
     "yes", "State the interest in the opinion, and have it read by somebody without one.",
     "State in every opinion what its author gains by it, and name a second reader."),
    ("day_missed", "A day that was missed",
     "A claim that comes after its last day is lost, however good it is.",
     "no", "Ask a lawyer at once whether anything stopped the time from running.",
     "Look up the last day to claim and to file at the place, and enter both with their source."),
    ("private_data", "Private data of a third person in what is handed on",
     "It may bring a complaint, and a reason to refuse the papers.",
     "yes", "Hand on a redacted copy, or have the person's consent on record.",
     "Hand on copies in which addresses and numbers of third persons are left out, or have their consent."),
    ("talk_among_evidence", "Settlement talk among the evidence",
     "It may be kept out, and taints what it stands beside (follows the idea of US Fed. R. Evid. 408; rules differ by place).",
     "yes", "Withdraw it here and keep it with 'evidence talk', which no report, paper or bundle carries.",
     "Keep offers and talks about settling apart: 'evidence talk' keeps them where no paper carries them."),
    ("wrong_respondent", "A claim against a name that may not be a person in law",
     "A trade name, a franchise or a sublet job: the claim is dismissed.",
     "yes", "Find the legal name, the registration and the address, and write again early.",
     "Find out who the prior repairer is in law: legal name, registration, address; ask who did sublet work."),
)  # fmt: skip

MISTAKES: Final[Mapping[MistakeCode, Kind]] = MappingProxyType(
    {
        code: Kind(code=code, words=words, why=why, mendable=mendable, mend=mend, guard=guard)
        for code, words, why, mendable, mend, guard in _ROWS
    }
)
assert tuple(MISTAKES) == MISTAKE_CODES
