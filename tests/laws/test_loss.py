"""Laws of the loss on lines of every sort: parts add up to the cent, readings are in order, nothing counts twice."""

from decimal import Decimal
from itertools import product

from evidence.claim.loss.money import Rounding, share_out
from evidence.claim.loss.statement import loss_statement
from evidence.claim.loss.sums import REPAIR
from evidence.claim.loss.telling import steps
from evidence.rules.assess import assess
from hypothesis import given
from hypothesis import strategies as st

from build import Case, vocabulary

D = Decimal
CENT = D("0.01")


def bare():
    case = Case()
    case.record("party", full_name="Ann Teal", roles=["present_repairer"])
    case.record("dossier", title="A car")
    for n in (1, 2):
        case.record("exhibit", caption=f"paper {n}", form="physical", description=f"paper {n}")
    return case


NOTHING = assess(bare().dossier(), (), vocabulary())
amounts = st.decimals("0.00", "9999.99", places=2).map(lambda a: f"{a:f}")
small = st.decimals("0.01", "9.99", places=2).map(lambda a: f"{a:f}")
rates = st.sampled_from([None, None, "7.25", "19", "20.0", "20", "0"])
maybe = st.sampled_from([None, None, True])
percents = st.sampled_from(["0", "10", "33.3", "50", "100"])


def shaped(heads, **more):
    """Fields of one sort of line; what is ``None`` is left out."""
    plain = {
        "head": st.sampled_from(heads), "amount": (amounts | small).map(lambda a: f"{a} USD"), "disputed": maybe,
        "at_least": st.none() | small.map(lambda a: f"{a} USD"), "tax_rate": rates, "tax_included": maybe,
        "exhibits": st.sampled_from([None, ["exhibit-1"], ["exhibit-2"]]), **more,
    }  # fmt: skip
    return st.fixed_dictionaries(plain).map(lambda d: {k: v for k, v in d.items() if v is not None})


worn = st.none() | st.fixed_dictionaries({"share": percents, "method": st.just("by age")}, optional={"disputed": st.just(True)})
repairs = shaped(["repair_parts", "repair_labour", "programming", "secondary_damage"], nature=st.just("resulting_damage"), wear=worn)
extras = shaped(["towing", "diagnosis_fee", "other"], nature=st.sampled_from(["incidental", "diagnosis"]), wear=worn)
reworks = shaped(["rework_cost", "repair_parts"], nature=st.just("rework"), claimed=maybe)
refunds = shaped(["prior_work_refund"], nature=st.just("incidental"), claimed=maybe)
offers = shaped(["repair_parts"], nature=st.just("resulting_damage"), offer_for=st.sampled_from(["module", "engine"]), claimed=st.sampled_from([None, True, False]))
cores = shaped(["core_charge"], nature=st.just("incidental"), temporary=maybe)
values = shaped(["value_before", "salvage_value"], nature=st.just("value"), claimed=maybe)
deductions = shaped(["core_credit", "salvage_credit", "betterment", "payment"], nature=st.just("deduction"))
shares = st.fixed_dictionaries(
    {"head": st.just("share_of_fault"), "nature": st.just("deduction"), "why": st.just("driven on")}, optional={"disputed": st.just(True)}
).flatmap(lambda d: st.one_of(percents.map(lambda p: {**d, "percent": p}), amounts.map(lambda a: {**d, "amount": f"{a} USD"})))  # fmt: skip
SORTS = (repairs, extras, reworks, refunds, offers, cores, values, deductions, shares)
some_lines = st.lists(st.one_of(*SORTS), min_size=1, max_size=9)
without_pairs = st.lists(st.one_of(repairs, extras, cores, values, deductions, shares), min_size=1, max_size=8)


def statement(lines):
    case = bare()
    for number, line in enumerate(lines):
        case.record("loss_item", **{"text": f"line {number}", "status": "invoiced", **line})
    return loss_statement(case.dossier(), NOTHING)


def readings(s):
    return (s.low, s.claimed, s.high)


@given(some_lines)
def test_every_total_is_told_apart_and_the_parts_add_up_to_the_cent(lines):
    s = statement(lines)
    for sums in readings(s):
        assert sum(sums.parts.values()) == sum(sums.by_nature.values()) == sums.gross
        assert sum(sums.parts_left.values()) == sum(sums.left_by_nature.values()) == sums.total
        for amount in (*sums.parts.values(), *sums.parts_left.values(), sums.total, sums.fault, sums.tax):
            assert amount == amount.quantize(CENT)
    assert s.documented + s.undocumented == s.claimed.gross
    assert sum(s.documented_by_nature.values()) == s.documented
    assert all(0 <= s.documented_by_nature.get(n, D(0)) <= a for n, a in s.by_nature.items())
    assert sum(r.amount for r in s.responsible) == s.claimed.gross


@given(some_lines)
def test_the_steps_lead_from_the_lines_to_the_total(lines):
    told = steps(statement(lines))
    total = next(n for n, step in enumerate(told) if step.words == "Total")
    for reading in range(3):
        assert sum(step.amounts[reading] for step in told[:total]) == told[total].amounts[reading]
        assert sum(step.amounts[reading] for step in told[total + 1 :]) == told[total].amounts[reading]


@given(some_lines)
def test_the_lowest_reading_is_the_lowest_and_the_highest_the_highest(lines):
    s = statement(lines)
    assert all(0 <= sums.fault <= max(sums.before_fault, 0) for sums in readings(s))
    assert s.low.total <= s.claimed.total <= s.high.total
    for line in s.counted:
        assert line.low <= line.claimed <= line.high


@given(some_lines)
def test_no_total_holds_both_of_what_counts_once(lines):
    """Refund and rework, two offers for one thing, a deposit and the credit that brought it back."""
    s = statement(lines)
    held = [x for x in s.counted if x.claimed > 0]
    refunds = [x for x in held if x.item.head == "prior_work_refund"]
    reworks = [x for x in held if x.item.nature == "rework"]
    assert not (refunds and reworks)
    things = [x.item.offer_for for x in s.counted if x.item.offer_for]
    assert len(things) == len(set(things))
    for sums in readings(s):
        assert sums.core.back == 0 or sums.core.credits > 0
        added = [e.net for e in sums.entries if e.item.nature not in ("deduction", "value")]
        assert sums.gross == sum(added) - sums.core.back + sums.tax
        deposits = [e for e in sums.entries if e.item.head == "core_charge"]
        if not any(D(e.item.tax_rate or 0) for e in sums.entries if e.item.head in ("core_charge", "core_credit")):
            left = sum(e.net for e in sums._settled[0] if e.item.head == "core_charge")
            assert sum(e.net for e in deposits) - sums.core.credits == left - sums.core.beyond
        if sums.core.beyond:  # then nothing is left of any deposit
            assert not any(e.net for e in sums._settled[0] if e.item.head == "core_charge")


@given(some_lines)
def test_what_is_left_out_is_told_with_the_line_that_counts_in_its_stead(lines):
    s = statement(lines)
    labels = {x.label: x for x in s.lines}
    for twice in s.twice:
        out = next(x for x in s.lines if x.subject == twice.subject)
        assert out.claimed == out.net - twice.amount
        assert out.label in twice.words
        assert all(labels[other].counted for other in twice.others)
    assert all(x.out for x in s.lines if not x.counted)


@given(without_pairs, st.data())
def test_a_lower_line_never_raises_the_total_and_a_higher_deduction_never_does(lines, data):
    index = data.draw(st.integers(0, len(lines) - 1))
    line = lines[index]
    if "amount" not in line or line["head"] == "salvage_value":
        return
    amount = D(line["amount"].split()[0])
    less = data.draw(st.decimals(0, amount, places=2))
    other = [*lines[:index], {**line, "amount": f"{less:f} USD"}, *lines[index + 1 :]]
    more, fewer = statement(lines), statement(other)
    if line["nature"] == "deduction":
        more, fewer = fewer, more
    for one, two in zip(readings(fewer), readings(more), strict=True):
        assert one.total <= two.total


@given(some_lines)
def test_repair_or_value_whichever_is_less(lines):
    """Worked out again from the lines: rates one by one, wear line by line."""
    for sums in readings(statement(lines)):
        if sums.value is None or not any(e.item.head in REPAIR for e in sums.added):
            continue

        def whole(entries):
            taxed = {}
            for e in entries:
                rate = "0" if e.item.tax_included else e.item.tax_rate or "0"
                taxed[D(rate)] = taxed.get(D(rate), 0) + e.net
            return sum(net + Rounding(2)(net * rate / 100) for rate, net in taxed.items())

        worn = sums._left
        repair = whole(worn) - sums._off("betterment") - sums._off("salvage_credit")
        value = sums.value + whole([e for e in worn if e.item.head not in REPAIR])
        assert sums.before_fault == min(repair, value) - sums.core.beyond


@given(some_lines, st.randoms(use_true_random=False))
def test_the_order_of_recording_changes_no_total(lines, random):
    """But where two sides cover the same and are equally good, the one that was recorded first stays."""
    shuffled = [line for line in lines if line["head"] != "prior_work_refund" and "offer_for" not in line]
    other = list(shuffled)
    random.shuffle(other)
    if not shuffled:
        return
    names = {id(line): {**line, "text": f"line {n}"} for n, line in enumerate(shuffled)}
    one, two = (statement([names[id(line)] for line in order]) for order in (shuffled, other))
    for a, b in zip(readings(one), readings(two), strict=True):
        assert (a.total, dict(a.by_nature), dict(a.left_by_nature)) == (b.total, dict(b.by_nature), dict(b.left_by_nature))


days = st.tuples(st.integers(1, 20), st.integers(1, 9))


@given(days, days, small, small, st.sampled_from(["hire", "loss_of_use", None]))
def test_no_day_counts_as_hired_and_as_lost(hire, lost, hire_rate, lost_rate, chosen):
    """Held against sets of days: together the two lines count every day of either once."""

    def line(head, when, rate):
        begins, count = when
        claimed = {"claimed": True} if head == chosen else {}
        return {"head": head, "nature": "incidental", "quantity": str(count), "unit": "d", "rate": f"{rate} USD", "begins": f"2026-05-{begins:02d}", **claimed}

    s = statement([line("hire", hire, hire_rate), line("loss_of_use", lost, lost_rate)])
    sets = [set(range(begins, begins + count)) for begins, count in (hire, lost)]
    counted = [x.claimed / D(rate) for x, rate in zip(s.lines, (hire_rate, lost_rate), strict=True)]
    assert sum(counted) == len(sets[0] | sets[1])
    if chosen:
        stays = ("hire", "loss_of_use").index(chosen)
        assert counted[stays] == len(sets[stays])


weights = st.dictionaries(st.tuples(st.sampled_from("abc"), st.sampled_from("xyz")), st.decimals("-5", "900", places=2), max_size=9)


@given(st.decimals(0, "99999.99", places=2), weights, st.sampled_from([0, 2, 3]))
def test_shares_add_up_and_no_group_is_a_cent_off(amount, weights, digits):
    rounding = Rounding(digits)
    amount = rounding(amount)
    shares = share_out(amount, weights, rounding)
    whole = sum(w for w in weights.values() if w > 0)
    assert sum(shares.values()) == (amount if whole else 0)
    for name, _ in product("abc", "x"):
        exact = amount * sum(w for part, w in weights.items() if part[0] == name and w > 0) / whole if whole else D(0)
        assert abs(sum(s for part, s in shares.items() if part[0] == name) - exact) < rounding.cent
    backwards = dict(reversed(weights.items()))
    assert share_out(amount, backwards, rounding) == shares
