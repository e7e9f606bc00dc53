"""Features against values from outside: circuit formulas and their ngspice runs, event rates, an open record, scipy."""

from pathlib import Path

import numpy as np
import pytest

from synthetic import read, value, why

PULSE = ["pulse_count", "pulse_width", "pulse_period", "frequency", "duty", "engine_speed"]


@pytest.fixture(scope="module")
def signal():
    """scipy's; the import takes two seconds, which only the process that needs it shall pay."""
    from scipy import signal

    return signal


def channel(**more):
    return {"column": "v", "quantity": "voltage", "unit": "V", "of": "injector-control", **more}


def current(**more):
    return {"column": "i", "quantity": "current", "unit": "A", "of": "coil", **more}


def test_seven_pulses_make_750_rpm():
    """2.8 ms every 160 ms for 1.0 s at 100 kHz, the first at t = 0; 120/750 s is one cycle of a four-stroke."""
    t = np.arange(100_000) / 1e5
    found = read(t, {"v": np.where(t % 0.16 < 0.0028 - 1e-9, 5.0, 0.0)}, [channel(find=PULSE, per_cycle=1)])
    assert value(found, "pulse_count") == (7, 0, "count")
    width, off, unit = value(found, "pulse_width")
    assert (unit, abs(width - 2.80) <= off, off <= 0.011) == ("ms", True, True)  # one sample is 0.01 ms
    speed, off, unit = value(found, "engine_speed")
    assert (unit, abs(speed - 750) <= off, off < 0.1) == ("rpm", True, True)


@pytest.mark.parametrize(("width", "speed", "duty"), [(3.2e-3, 800, 2.133), (16e-3, 6000, 80.0)])
def test_duty_of_an_injector(width, speed, duty):
    """3.2 ms at 800 rpm is 2.133 %, 16 ms at 6000 rpm is 80 % of the cycle of 120/rpm seconds (formula)."""
    t = np.arange(0, 2, 1e-5)
    low = ((t - 0.003) % (120 / speed)) < width
    ask = channel(find=["duty", "pulse_width"], active="low")
    got, off, unit = value(read(t, {"v": np.where(low, 0.2, 13.6)}, [ask]), "duty")
    assert (unit, abs(got - duty) <= off + 0.0005, off < 0.03 * duty) == ("%", True, True)
    unstated = read(t, {"v": np.where(low, 0.2, 13.6)}, [channel(find=["duty"])])
    assert (why(unstated, "duty") is None) == (duty < 10)  # which level is the pulse cannot be told from an 80 % one


@pytest.mark.parametrize(("cylinders", "speed", "rate"), [(4, 600, 20.0), (6, 750, 37.5), (8, 1000, 66.667)])
def test_event_rate(cylinders, speed, rate):
    """f = rpm x cylinders / 120 (common practice): 20, 37.5 and 66.667 events a second."""
    t = np.arange(0, 1.5, 2e-5)
    pulses = np.where((t - 0.001) % (120 / speed / cylinders) < 0.002, 5.0, 0.0)
    found = read(t, {"v": pulses}, [channel(find=["frequency", "engine_speed"], per_cycle=cylinders)])
    got, off, _ = value(found, "frequency")
    assert abs(got - rate) <= off + 0.0005
    got, off, _ = value(found, "engine_speed")
    assert abs(got - speed) <= off


@pytest.mark.parametrize(
    ("volts", "ohms", "henry", "on", "amperes"),
    [(13.8, 0.5, 4e-3, 1e-3, 3.24309), (13.8, 0.5, 4e-3, 2e-3, 6.10510), (13.5, 12.5, 15e-3, 1.2e-3, 0.68269)],
)
def test_peak_of_an_inductive_ramp(volts, ohms, henry, on, amperes):
    """Coil primary and injector by i = U/R (1 - exp(-tR/L)), values of ngspice 39."""
    t = np.arange(0, 0.06, 2e-6)
    phase = (t - 0.001) % 0.02
    i = np.where(phase <= on, volts / ohms * (1 - np.exp(-phase * ohms / henry)), 0.0)
    noise = np.random.default_rng(1).normal(0, 0.01 * amperes, len(t))
    got, off, _ = value(read(t, {"i": i + noise}, [current(find=["peak_current"])]), "peak_current")
    assert abs(got - amperes) <= off
    assert off < 0.05 * amperes


def test_when_a_current_crosses_a_stated_threshold():
    """The same coil reaches 7 A after 2.34020 ms (ngspice 39): from there to switch-off at 3 ms it is 0.6598 ms."""
    t = np.arange(0, 0.1, 2e-6)
    phase = (t - 0.001) % 0.02
    i = np.where(phase <= 3e-3, 27.6 * (1 - np.exp(-phase / 8e-3)), 0.0)
    got, off, unit = value(read(t, {"i": i}, [current(find=["dwell"], threshold="7", active="high")]), "dwell")
    assert unit == "ms"
    assert abs(got - 0.6598) <= off
    assert off < 0.01


def test_relative_compression_of_four_cylinders():
    """140 A + 60 A w sin^2, w = 1, 1, 0.7, 1, 240 rpm, 2 s at 10 kHz, noise 2 A: 100, 100, 70, 100 % within 1.5."""
    rng = np.random.default_rng(20240229)
    t = np.arange(20_000) / 10_000
    turn = t * 8
    w = np.array([1, 1, 0.7, 1])[np.floor(turn).astype(int) % 4]
    i = 140 + 60 * w * np.sin(np.pi * turn) ** 2 + rng.normal(0, 2, len(t))
    spark = np.where((turn - 0.45) % 4 < 0.03, 5.0, 0.0)  # of cylinder 1, just before the first top of each cycle
    ask = [
        current(of="starter", find=["relative_compression", "engine_speed"]),
        channel(of="coil-control", position="1", per_cycle=1, find=["pulse_count", "event_to_top"], event="start"),
    ]
    found = read(t, {"i": i, "v": spark}, ask, cylinders=4, order=("1", "3", "4", "2"))
    for position, percent in {"1": 100, "3": 100, "4": 70, "2": 100}.items():
        got, off, _ = value(found, "relative_compression", position)
        assert abs(got - percent) <= off <= 1.5
    speed, off, _ = value(found, "engine_speed")
    assert abs(speed - 240) <= off <= 1
    early, off, unit = value(found, "event_to_top")
    assert (unit, abs(early - 0.05 / 8 * 1000) <= off, off < 0.5) == ("ms", True, True)
    unplaced = read(t, {"i": i}, ask[:1], cylinders=4)
    (only,) = (f for f in unplaced.features if f.feature == "relative_compression")
    assert only.position is None
    assert abs(float(only.value) - 70) <= float(only.uncertainty)
    assert "100, 100, 70, 100 %" in only.note
    (top,) = (m for m in unplaced.marked if m.what == "top")
    assert len(top.at) == 16


def test_pump_ripple(signal):
    """8 commutator bars at 5400 rpm, bar 6 worn to 0.4, 50 kHz, 0.1 s: 720 Hz, 72 humps; scipy's periodogram agrees."""
    rng = np.random.default_rng(3)
    t = np.arange(5_000) / 50_000
    worn = np.where(np.floor(t * 720).astype(int) % 8 == 5, 0.4, 1.0)
    i = 5.5 + 0.42 * worn * np.abs(np.sin(np.pi * 720 * t)) + rng.normal(0, 0.03, len(t))
    ask = current(of="fuel-pump", bars=[8, 10], find=["ripple_frequency", "ripple_count", "pump_speed"])
    found = read(t, {"i": i}, [ask])
    line, off, _ = value(found, "ripple_frequency")
    assert abs(line - 720) <= off < 2
    humps, off, _ = value(found, "ripple_count")
    assert abs(humps - 72) <= off < 0.5
    assert abs(value(found, "pump_speed", "8-bars")[0] - 5400) <= value(found, "pump_speed", "8-bars")[1]
    assert abs(value(found, "pump_speed", "10-bars")[0] - 4320) <= value(found, "pump_speed", "10-bars")[1]
    frequencies, power = signal.periodogram(i, 50_000, window="hann", detrend="constant")
    assert abs(line - frequencies[power.argmax()]) <= 10  # its bins are 10 Hz


@pytest.mark.parametrize(("ms", "speed"), [(8, 7500), (10, 6000)])
def test_pump_speed_by_its_bars(ms, speed):
    """rpm = 60000 / (ms for as many humps as bars): 8 ms is 7500 rpm, 10 ms is 6000 (common practice)."""
    t = np.arange(0, 0.2, 2e-5)
    i = 5 + 0.4 * np.abs(np.sin(np.pi * t * 8 / (ms / 1000)))
    got, off, _ = value(read(t, {"i": i}, [current(bars=[8], find=["pump_speed"])]), "pump_speed", "8-bars")
    assert abs(got - speed) <= off


def test_beats_of_an_open_record(signal):
    """scipy's own example: 12 peaks in ecg[2000:4000], gaps 186 180 177 ... at 360 Hz (MIT-BIH record 208, ODC-By)."""
    raw = np.loadtxt(Path(__file__).parents[3] / "data" / "ecg-2000-4000.txt")
    ecg, t = (raw - 1024) / 200, np.arange(2000) / 360
    peaks, _ = signal.find_peaks(ecg, distance=150)
    assert np.diff(peaks).tolist() == [186, 180, 177, 171, 177, 169, 167, 164, 158, 162, 172]
    level = signal.sosfiltfilt(signal.butter(2, 5, "high", fs=360, output="sos"), ecg)  # without its wandering
    found = read(t, {"v": level}, [channel(threshold="0.6", active="high", find=["pulse_count", "pulse_period"])])
    assert value(found, "pulse_count")[0] == 12
    got, off, unit = value(found, "pulse_period")
    assert unit == "ms"
    assert abs(got - 1000 * np.diff(peaks).mean() / 360) <= 3000 / 360 / 11 + off  # an R wave is 3 samples from edge to top
    (begins,) = (m for m in found.marked if m.what == "pulse_start")
    assert all(-12 <= (float(at) * 360 - peak) <= 0 for at, peak in zip(begins.at, peaks, strict=True))


def test_widths_as_scipy_sees_them(signal):
    rng = np.random.default_rng(5)
    t = np.arange(0, 1, 1e-4)
    smooth = np.convolve(np.where((t - 0.02) % 0.1 < 0.013, 1.0, 0.0), np.ones(21) / 21, mode="same") * 5
    v = smooth + rng.normal(0, 0.02, len(t))
    peaks, _ = signal.find_peaks(smooth, height=4, plateau_size=1)
    widths, *_ = signal.peak_widths(smooth, peaks, rel_height=0.5)
    got, off, _ = value(read(t, {"v": v}, [channel(active="high", find=["pulse_width"])]), "pulse_width")
    assert abs(got - widths.mean() / 10) <= off


def test_an_injector_without_a_pulse_in_eight_cycles():
    t = np.arange(0, 1.3, 1e-4)
    phase = (t - 0.01) % 0.15  # 800 rpm
    columns = {f"v{n}": np.where((phase - n * 0.0375) % 0.15 < 0.004, 0.3, 13.8) for n in (1, 2, 3, 4)}
    columns["v3"] = np.full(len(t), 13.8) + np.random.default_rng(1).normal(0, 0.05, len(t))
    asked = ["pulses_per_cycle", "missing_events", "cycles_read"]
    ask = [channel(column=f"v{n}", position=str(n), per_cycle=1, active="low", find=asked) for n in (1, 2, 3, 4)]
    ask[0]["find"].append("events_per_cycle")
    found = read(t, columns, ask, cylinders=4)
    assert value(found, "pulses_per_cycle", "3") == (0, 0, "count")
    assert value(found, "cycles_read", "3") == (8, 0, "count")
    assert value(found, "missing_events", "3") == (8, 0, "count")
    assert [value(found, "pulses_per_cycle", n)[0] for n in "124"] == [1, 1, 1]
    assert value(found, "events_per_cycle") == (3, 0, "count")
    assert "4 expected" in next(f.note for f in found.features if f.feature == "events_per_cycle")


def test_voltage_drop_between_unloaded_and_loaded():
    """0.5 V at 150 A is 3.333 mOhm: a battery terminal that falls from 12.60 V to 12.10 V when the load comes on."""
    rng = np.random.default_rng(8)
    t = np.arange(0, 2, 1e-3)
    v = np.where((t > 0.5) & (t < 1.2), 12.10, 12.60) + rng.normal(0, 0.01, len(t))
    got, off, _ = value(read(t, {"v": v}, [channel(of="battery-positive", find=["voltage_drop"])]), "voltage_drop")
    assert abs(got - 0.5) <= off < 0.01


def test_peak_cylinder_pressure():
    t = np.arange(0, 3, 1e-4)
    bar = 0.1 + 9.4 * np.exp(-((((t * 2) % 1) - 0.5) ** 2) / 0.005)  # 240 rpm
    ask = {"column": "p", "quantity": "pressure", "unit": "bar", "of": "cylinder", "position": "1", "find": ["peak_pressure", "engine_speed"]}
    found = read(t, {"p": bar + np.random.default_rng(2).normal(0, 0.05, len(t))}, [ask])
    got, off, unit = value(found, "peak_pressure")
    assert (unit, abs(got - 9.5) <= off, off < 0.3) == ("bar", True, True)
    speed, off, _ = value(found, "engine_speed")
    assert abs(speed - 240) <= off


T = np.arange(0, 1, 1e-4)
NOISE = np.random.default_rng(4).normal(0, 1, len(T))


@pytest.mark.parametrize(
    ("values", "ask", "told"),
    [
        (0.04 + 0.01 * NOISE, channel(find=["pulse_width"]), "no threshold is stated"),
        (0.04 + 0.01 * NOISE, channel(find=["pulse_count"], threshold="0.05"), "too close together"),
        (NOISE, channel(find=["frequency"]), "keeps to one level"),
        (np.where(T % 0.1 < 5e-5, 5.0, 0.0), channel(find=["pulse_width"]), "no longer than a sample"),
        (np.where(T < 0.003, 5.0, 0.0), channel(find=["pulse_width"]), "no whole pulse"),
        (np.where(np.abs(T - 0.5) < 0.01, 5.0, 0.0), channel(find=["frequency"]), "fewer than two"),
        (np.where(T % 0.1 < 0.01, 5.0, 0.0) * (np.abs(T - 0.4) > 0.05), channel(find=["frequency"]), "irregularly"),
        (np.where(T % 0.1 < 0.01, 5.0, 0.0), channel(find=["engine_speed"]), "per_cycle"),
        (np.where(T % 0.1 < 0.01, 5.0, 0.0), channel(find=["pulses_per_cycle"]), "nothing tells the engine cycles"),
        (np.where(T % 0.1 < 0.06, 5.0, 0.0), channel(find=["duty"]), "which of them is the pulse"),
        (5 + NOISE, channel(find=["ripple_frequency"]), "no regular rise"),
        (5 + np.sin(9 * T), channel(find=["ripple_count"]), "rise and fall"),
        (12 + 0.1 * NOISE, channel(find=["voltage_drop"]), "both states"),
        (np.minimum(5 + 3 * np.sin(30 * T) + 0.2 * NOISE, 6), channel(find=["peak_voltage"]), "cut off"),
        (np.where(T[5000] == T, 60.0, 0.0), channel(find=["peak_voltage"]), "too narrow"),
        (12 + NOISE, channel(find=["mean_current"]), "no current"),
    ],
)
def test_what_a_trace_does_not_allow_is_never_a_number(values, ask, told):
    if "ripple" in ask["find"][0]:
        ask = {**ask, "quantity": "current", "unit": "A"}
    found = read(T, {"v": values}, [ask])
    assert not found.features
    assert told in found.not_read[0].why


def test_samples_that_are_missing_for_longer_than_a_pulse():
    values = np.where(T % 0.1 < 0.004, 5.0, 0.0)
    keep = np.abs(T - 0.35) > 0.01
    found = read(T[keep], {"v": values[keep]}, [channel(find=["pulse_count", "pulse_width"])])
    assert "long enough to hide a pulse" in why(found, "pulse_count")
    assert value(found, "pulse_width")[0] == pytest.approx(4, abs=0.1)  # of those that are there it can still be read


def test_time_that_goes_back_tells_nothing():
    shuffled = T.copy()
    shuffled[[10, 20]] = shuffled[[20, 10]]
    found = read(shuffled, {"v": np.where(T % 0.1 < 0.01, 5.0, 0.0)}, [channel(find=PULSE)])
    assert not found.features
    assert "goes back" in why(found, "pulse_count")


def test_a_dead_cylinder_and_a_trace_without_compressions():
    t = np.arange(0, 2, 1e-4)
    w = np.array([1, 0.05, 1, 1])[np.floor(t * 8).astype(int) % 4]
    i = 140 + 60 * w * np.sin(np.pi * t * 8) ** 2 + np.random.default_rng(1).normal(0, 2, len(t))
    ask = [current(of="starter", find=["relative_compression"])]
    got, off, _ = value(read(t, {"i": i}, ask, cylinders=4), "relative_compression")
    assert abs(got - 5) <= off <= 2
    flat = 140 + np.random.default_rng(1).normal(0, 2, len(t))
    assert "no regular rise" in why(read(t, {"i": flat}, ask, cylinders=4), "relative_compression")
    assert "how many humps" in why(read(t, {"i": i}, ask), "relative_compression")
    clipped = np.minimum(i, 185.0)
    assert "cut off" in why(read(t, {"i": clipped}, ask, cylinders=4), "relative_compression")
    coarse = np.round(np.minimum(140 + 60 * w * np.sin(np.pi * t * 8) ** 2, 185.0))  # no noise, digits of 1 A
    assert "cut off" in why(read(t, {"i": coarse}, ask, cylinders=4), "relative_compression")
    whole = np.round(140 + 60 * w * np.sin(np.pi * t * 8) ** 2)
    assert value(read(t, {"i": whole}, ask, cylinders=4), "relative_compression")[0] == pytest.approx(5, abs=2)
    stated = [{**ask[0], "full_scale": ["0", "200"]}]
    assert "cut off" in why(read(t, {"i": whole}, stated, cylinders=4), "relative_compression")


@pytest.mark.parametrize(("unit", "per_second"), [("s", 1), ("ms", 1e3), ("µs", 1e6)])
def test_times_and_scales_of_a_file(put, unit, per_second):
    """Pulses of 20 ms in a file of decimal commas, in its own time unit, through a probe of 20:1; one row lost."""
    from evidence.capture.traces.reading import read_trace
    from evidence.model.waveform import Engine, Waveform

    t = np.arange(0, 1, 1e-3)
    high = (t - 0.03) % 0.2 < 0.02
    rows = [f"{x * per_second:.4f};{0.6 if up else 0.01:.3f}".replace(".", ",") for x, up in zip(t, high, strict=True)]
    rows[500] = "---;---"
    path = put("w.csv", f"t;v\n({unit});(V)\n{chr(10).join(rows)}\n".encode())
    ask = channel(scale="20", active="high", find=["pulse_width", "pulse_count", "peak_voltage"])
    made = Waveform(trace="x", title="t", time_column="t", time_unit=unit, channels=[ask])
    found = read_trace(path, made, Engine())
    got, off, shown = value(found, "pulse_width")
    assert (shown, abs(got - 20) <= off, off <= 1.1) == ("ms", True, True)
    assert value(found, "pulse_count")[0] == 5
    peak, off, _ = value(found, "peak_voltage")
    assert abs(peak - 12) <= off < 0.2
    (starts,) = (m for m in found.marked if m.what == "pulse_start")
    assert float(starts.at[0]) == pytest.approx(0.0295 * per_second, rel=0.02)  # in the file's own unit
