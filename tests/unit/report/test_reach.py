"""The page on time and opportunity: there when there is something to show, in words and in a picture."""

from evidence.report import blocks
from evidence.report.describing import matrix_words
from evidence.report.pages.reach import reach
from evidence.rules.opportunity import opportunities

from build import coil_case, vocabulary
from rich_dossier import given as given_for

GOOD = {"of": "coil-ground-eyelet", "aspect": "ground_seat", "position": "1"}


class Held:
    """A case as the printer of reports asks for it."""

    def __init__(self, case):
        self.case = case

    def dossier(self):
        return self.case.dossier()


def page(case):
    found = opportunities(case.dossier(), case.assess(), vocabulary())
    return reach(given_for(Held(case), opportunities=found))


def found_off():
    case = coil_case(opened="2026-04-30 08:00", closed="2026-05-02 17:00")
    case.declare()
    case.observe("coil-ground-eyelet", "ground_seat", "off", position="1")
    return case


def text_of(section):
    told = []
    for block in section.blocks:
        told += [getattr(block, "text", ""), *getattr(block, "items", ())]
        told += [cell for row in getattr(block, "rows", ()) if isinstance(row, blocks.Row) for cell in row.cells]
    return "\n".join(told)


def test_there_is_no_page_where_there_is_nothing_to_show():
    assert page(coil_case()) is None


def test_a_departure_has_its_matrix_and_its_statement():
    section = page(found_off())
    (drawn,) = (b for b in section.blocks if isinstance(b, blocks.Matrix))
    assert drawn.good is None
    assert drawn.rows[0].name == "Old Mill Garage"
    told = text_of(section)
    assert "open to the past" in told
    assert "Not exclusive on this record" in told
    assert "a record that shows the coil ground eyelet in order" in told
    words = matrix_words(drawn)
    assert words.startswith("Matrix of who had the vehicle from an unknown time, to Observation 1")
    assert "Old Mill Garage, surely 2026-04-30 to 2026-05-02" in words


def test_a_window_shown_on_both_sides_names_both():
    case = found_off()
    case.record("observation", seen="seated", time="2026-04-29 08:00", text="inspected", **GOOD)
    section = page(case)
    (drawn,) = (b for b in section.blocks if isinstance(b, blocks.Matrix))
    assert drawn.good[0] == "Observation 2"
    assert "The last record that shows the part in order is Observation 2" in text_of(section)


def test_times_alone_say_that_no_departure_is_shown():
    case = coil_case()
    step = case.touch("coil", time="2026-05")
    case.observe("coil", "housing", "whole", time="2026-05-06 10:00", state="disturbed", after=step)
    told = text_of(page(case))
    assert "not after: Observation 1: 2026-05-06 10:00 (Europe/Lisbon); Observation 1 came after Intervention 1" in told
    assert "No departure is shown by any finding" in told


def test_what_cannot_all_be_true_is_said_first():
    case = found_off()
    case.record("time_relation", what="event-1", relation="before", other="work_order-1", text="before the job", basis="told")
    section = page(case)
    assert section.blocks[0].text == "What cannot all be true"
    assert "before the job" in text_of(section)
