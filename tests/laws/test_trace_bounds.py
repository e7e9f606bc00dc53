"""Law: stated limits of error hold in 99 % of seeded trials against synthetic truth, or nothing is stated.

Every trial draws its own rate, noise, digits, jitter of the times, lost samples, clipping, and where in a period it
begins. A feature that cannot be read is no miss; but where a trace is good it must be read, so each kind counts how often.
"""

import numpy as np
import pytest

from synthetic import read, spoiled, value


class Tally:
    """Trials of one kind."""

    def __init__(self):
        self.read = self.asked = 0
        self.missed = []

    def held(self, seed, found, feature, truth, position=None, factor=1.0):
        """Count one answer; ``truth`` in the unit of ``factor`` of the answer's."""
        self.asked += 1
        answer = value(found, feature, position)
        if answer is None:
            return
        self.read += 1
        got, off, unit = answer
        scale = {"ms": 1e3, "µs": 1e6}.get(unit, 1.0)
        if abs(got - truth * scale) > off + 1e-9 * abs(got):
            self.missed.append((seed, feature, got, truth * scale, off))


def v(column="v", **more):
    return {"column": column, "quantity": "voltage", "unit": "V", "of": "injector-control", **more}


def i(of="starter", **more):
    return {"column": "i", "quantity": "current", "unit": "A", "of": of, **more}


def pulses(seed, tally):
    """A train with jitter of its own, a kick at switch-off, noise to 4 % of the swing."""
    rng = np.random.default_rng(seed)
    rate = 10 ** rng.uniform(3.7, 5)
    period = rng.uniform(0.02, 0.2)
    width = period * rng.uniform(0.01, 0.09)
    width = max(width, 6 / rate)
    count = int(rng.integers(3, 30))
    starts = np.cumsum(period * (1 + rng.uniform(-0.05, 0.05, count))) - period * rng.uniform(0.3, 1)
    widths = width * (1 + rng.uniform(-0.1, 0.1, count))
    t = np.arange(0, starts[-1] + period * rng.uniform(0.2, 0.9), 1 / rate)
    at = np.clip(np.searchsorted(starts, t, side="right") - 1, 0, None)
    on = (t >= starts[at]) & (t < starts[at] + widths[at])
    since = t - starts[at] - widths[at]
    swing = rng.uniform(3, 14)
    kick = np.where((since >= 0) & (since < 0.004), rng.uniform(0, 4) * swing * np.exp(-np.maximum(since, 0) / 2e-4), 0)
    low = rng.random() < 0.5
    level = np.where(on, 0.2, swing + kick) if low else np.where(on, swing, 0.1)
    level = level + rng.normal(0, swing * rng.uniform(0, 0.04), len(t))
    level = np.clip(level, -0.05 * swing, swing * rng.uniform(1.0, 6))  # the recorder's range
    t, keep, columns = spoiled(rng, t, {"v": level}, lost=rng.choice([0, 0, 0.005]), jitter=rng.choice([0, 0.2]),
                               digit=rng.choice([0, swing / 200]))  # fmt: skip
    ask = v(per_cycle=1, active="low" if low else "high",
            find=["pulse_count", "pulse_width", "pulse_period", "frequency", "duty", "engine_speed"])  # fmt: skip
    found = read(t[keep], {"v": columns["v"][keep]}, [ask])
    begun = starts < t[-1]
    starts, widths = starts[begun], widths[begun]
    if starts[0] < 0 or abs(starts[-1] + widths[-1] - t[-1]) < 3 / rate or t[-1] - starts[-1] < 3 / rate:
        return  # at the very end of the trace whether it is seen is open
    whole = starts + widths < t[-1]
    tally.held(seed, found, "pulse_count", len(starts))
    tally.held(seed, found, "pulse_width", widths[whole].mean())
    mean = (starts[-1] - starts[0]) / (len(starts) - 1)
    tally.held(seed, found, "pulse_period", mean)
    tally.held(seed, found, "frequency", 1 / mean)
    tally.held(seed, found, "duty", 100 * widths[:-1].sum() / (starts[-1] - starts[0]))
    tally.held(seed, found, "engine_speed", 120 / mean)


def cranking(seed, tally):
    """Starter current of 3 to 8 cylinders whose speed sways within the cycle; sometimes an inrush before it."""
    rng = np.random.default_rng(seed)
    cylinders = int(rng.choice([3, 4, 5, 6, 8]))
    speed, rate = rng.uniform(120, 300), rng.uniform(2000, 20_000)
    cycles = rng.uniform(3.2, 8)
    t = np.arange(0, cycles * 120 / speed, 1 / rate)
    hump = speed * cylinders / 120
    turn = hump * t + 0.04 * np.sin(2 * np.pi * hump * t / rng.uniform(3, 9) + rng.uniform(0, 6)) + rng.uniform(0, cylinders)
    weights = rng.uniform(0.5, 1, cylinders)
    weights[rng.integers(cylinders)] = 1.0
    height = rng.uniform(20, 80)
    level = rng.uniform(90, 200) + height * weights[np.floor(turn).astype(int) % cylinders] * np.sin(np.pi * turn) ** 2
    clean = level + rng.normal(0, height * rng.uniform(0.005, 0.08), len(t)) + rng.uniform(-10, 10) * t / t[-1]
    clipped = rng.random() < 0.15
    if clipped:
        clean = np.minimum(clean, np.quantile(clean, 0.93))
    t, keep, columns = spoiled(rng, t, {"i": clean}, lost=rng.choice([0, 0.01]), digit=rng.choice([0, 0.1]))
    found = read(t[keep], {"i": columns["i"][keep]}, [i(find=["relative_compression", "engine_speed"])], cylinders=cylinders)
    mean = (turn[-1] - turn[0]) / (t[-1] - t[0]) * 120 / cylinders
    tally.held(seed, found, "engine_speed", mean)
    tally.held(seed, found, "relative_compression", 100 * weights.min())


def ripple(seed, tally):
    """Pump current with one worn commutator bar, once-a-turn sway and a slow drift of its speed."""
    rng = np.random.default_rng(seed)
    bars, speed = int(rng.choice([6, 8, 10, 12])), rng.uniform(3000, 8000)
    hump = bars * speed / 60
    rate = hump * rng.uniform(12, 60)
    t = np.arange(0, rng.uniform(30, 300) / hump, 1 / rate)
    turns = hump * t * (1 + rng.uniform(-0.01, 0.01) * t / t[-1]) + rng.uniform(0, bars)
    worn = np.where(np.floor(turns).astype(int) % bars == 2, rng.uniform(0.5, 1), 1.0)
    clean = 5 + 0.4 * worn * np.abs(np.sin(np.pi * turns)) + 0.05 * np.sin(2 * np.pi * turns / bars)
    noisy = clean + rng.normal(0, 0.4 * rng.uniform(0.02, 0.25), len(t))
    t, _, columns = spoiled(rng, t, {"i": noisy}, jitter=rng.choice([0, 0.1]), digit=rng.choice([0, 0.01]))
    ask = i(of="fuel-pump", bars=[bars], find=["ripple_frequency", "ripple_count", "pump_speed", "mean_current"])
    found = read(t, columns, [ask])
    span = (turns[-1] - turns[0]) / (t[-1] - t[0])
    tally.held(seed, found, "ripple_frequency", span)
    tally.held(seed, found, "ripple_count", (turns[-1] - turns[0]) * len(t) / (len(t) - 1))
    tally.held(seed, found, "pump_speed", 60 * span / bars)
    tally.held(seed, found, "mean_current", clean.mean())


def sizes(seed, tally):
    """Peaks of inductive ramps, a voltage that falls under load, a peak pressure."""
    rng = np.random.default_rng(seed)
    rate = rng.uniform(1e4, 2e5)
    t = np.arange(0, 0.4, 1 / rate)
    on, end, tau = rng.uniform(1e-3, 6e-3), rng.uniform(5, 20), rng.uniform(1e-3, 8e-3)
    phase = (t - rng.uniform(0.001, 0.02)) % rng.uniform(0.02, 0.09)
    ramp = np.where(phase < on, end * (1 - np.exp(-phase / tau)), 0.0)
    top = end * (1 - np.exp(-on / tau))
    noisy = ramp + rng.normal(0, top * rng.uniform(0.001, 0.03), len(t))
    clipped = rng.random() < 0.2
    if clipped:
        noisy = np.minimum(noisy, 0.8 * top)
    found = read(t, {"i": noisy}, [i(of="coil", find=["peak_current"])])
    tally.held(seed, found, "peak_current", top)
    slow = np.arange(0, rng.uniform(1, 4), 1 / rng.uniform(500, 5000))
    fall = rng.uniform(0.1, 2.5)
    loaded = (slow > slow[-1] * rng.uniform(0.1, 0.4)) & (slow < slow[-1] * rng.uniform(0.5, 1.1))
    volts = 12.6 - fall * loaded + rng.normal(0, fall * rng.uniform(0.001, 0.06), len(slow))
    found = read(slow, {"v": np.round(volts, 2)}, [v(find=["voltage_drop"])])
    tally.held(seed, found, "voltage_drop", fall)


def pressures(seed, tally):
    """A cylinder's pressure while cranking."""
    rng = np.random.default_rng(seed)
    rate, speed, top = rng.uniform(2000, 20_000), rng.uniform(150, 300), rng.uniform(5, 14)
    t = np.arange(0, rng.uniform(2.5, 5) * 120 / speed, 1 / rate)
    place = (t * speed / 120 + rng.uniform(0, 1)) % 1 - 0.5
    clean = 0.1 + top * np.exp(-(place**2) / rng.uniform(0.002, 0.01))
    noisy = clean + rng.normal(0, top * rng.uniform(0.001, 0.02), len(t))
    if rng.random() < 0.2:
        noisy = np.minimum(noisy, 0.9 * top)
    ask = {"column": "p", "quantity": "pressure", "unit": "bar", "of": "cylinder", "position": "1",
           "find": ["peak_pressure", "engine_speed"]}  # fmt: skip
    found = read(t, {"p": np.round(noisy, 2)}, [ask])
    tally.held(seed, found, "peak_pressure", 0.1 + top)
    tally.held(seed, found, "engine_speed", speed)


def events(seed, tally):
    """Four injectors of which some miss events, and coils against the compressions of a starter current."""
    rng = np.random.default_rng(seed)
    speed, rate = rng.uniform(150, 900), rng.uniform(8000, 30_000)
    cycle = 120 / speed
    cycles = int(rng.integers(4, 12))
    t = np.arange(0, (cycles + rng.uniform(0.1, 0.9)) * cycle, 1 / rate)
    begin = rng.uniform(0, cycle)
    columns, seen = {}, {}
    for n in range(4):
        number = np.floor((t - begin - n * cycle / 4) / cycle).astype(int)
        there = rng.random(cycles + 4) > (0.3 if n == 2 else 0)
        phase = (t - begin - n * cycle / 4) % cycle
        columns[f"v{n}"] = np.where((phase < 0.05 * cycle) & there[number + 2], 0.3, 13.0) + rng.normal(0, 0.2, len(t))
        seen[n] = there
    ask = [v(f"v{n}", position=str(n), per_cycle=1, active="low", find=["pulses_per_cycle", "cycles_read"]) for n in range(4)]
    found = read(t, columns, ask, cylinders=4)
    for n in (0, 1, 3):
        tally.held(seed, found, "pulses_per_cycle", 1, str(n))
    if seen[2].all():
        tally.held(seed, found, "pulses_per_cycle", 1, "2")
    else:
        answer, counted = value(found, "pulses_per_cycle", "2"), value(found, "cycles_read", "2")
        tally.asked += 1
        if answer:
            tally.read += 1
            share = answer[0] * counted[0]
            if abs(share - round(share)) > 0.01 or not 0 <= answer[0] <= 1:
                tally.missed.append((seed, "pulses_per_cycle", answer, counted, 0))


def tops(seed, tally):
    """A spark before each compression top."""
    rng = np.random.default_rng(seed)
    cylinders, speed, rate = int(rng.choice([4, 6])), rng.uniform(140, 280), rng.uniform(5000, 20_000)
    hump = speed * cylinders / 120
    t = np.arange(0, rng.uniform(3.2, 6) * 120 / speed, 1 / rate)
    turn = hump * t + rng.uniform(0, cylinders)
    level = 150 + 50 * np.sin(np.pi * turn) ** 2 + rng.normal(0, rng.uniform(0.5, 4), len(t))
    early = rng.uniform(0, 0.2)  # of the way between two tops
    spark = np.where(((turn - 0.5 + early) % cylinders) * 1 < 0.04, 5.0, 0.0) + rng.normal(0, 0.05, len(t))
    ask = [i(find=["engine_speed"]), v(of="coil-control", position="1", per_cycle=1, active="high", find=["event_to_top"])]
    found = read(t, {"i": level, "v": spark}, ask, cylinders=cylinders)
    tally.held(seed, found, "event_to_top", early / hump)
    tally.held(seed, found, "engine_speed", speed)


def silence(seed, tally):
    """Noise, a slow drift, a hum that is no ripple and a dead line: nothing of it may become a number."""
    rng = np.random.default_rng(seed)
    rate = 10 ** rng.uniform(3.5, 4.7)
    t = np.arange(0, rng.uniform(1, 3), 1 / rate)
    noise = rng.uniform(0.01, 1)
    dead = rng.uniform(0, 12) + rng.normal(0, noise, len(t)) + rng.uniform(-1, 1) * t
    if rng.random() < 0.5:
        dead = np.round(dead, 1)
    ask = [v(find=["pulse_width", "pulse_period", "frequency", "duty", "engine_speed", "dwell"], per_cycle=1, active="high")]
    ask[0]["find"] += ["ripple_frequency", "ripple_count"]
    found = read(t, {"v": dead}, ask)
    starter = read(t, {"i": dead}, [i(find=["relative_compression", "engine_speed"])], cylinders=4)
    for answer in (*found.features, *starter.features):
        tally.missed.append((seed, answer.feature, answer.value, answer.note, 0))
    tally.asked += 10
    tally.read += 10


KINDS = {"pulses": (pulses, 0.9), "cranking": (cranking, 0.7), "ripple": (ripple, 0.8), "sizes": (sizes, 0.75),
         "pressures": (pressures, 0.75), "events": (events, 0.9), "tops": (tops, 0.9), "silence": (silence, 1.0)}  # fmt: skip


def run(kind, trials, first):
    trial, often = KINDS[kind]
    tally = Tally()
    for seed in range(first, first + trials):
        trial(seed, tally)
    share = 1 - len(tally.missed) / max(tally.read, 1)
    print(f"{kind}: {tally.asked} asked, {tally.read} read, {len(tally.missed)} missed, {share:.4f} held")
    assert tally.read >= often * tally.asked, f"{tally.read} of {tally.asked} could be read"
    allowed = 0 if kind == "silence" else 0.01 * tally.read
    assert len(tally.missed) <= allowed, tally.missed[:10]


@pytest.mark.parametrize("kind", KINDS)
def test_limits_hold_in_99_of_100(kind):
    run(kind, 40, 1)


@pytest.mark.campaign
@pytest.mark.parametrize("kind", KINDS)
def test_limits_hold_in_thousands_of_trials(kind):
    run(kind, 3000, 1_000_000)
