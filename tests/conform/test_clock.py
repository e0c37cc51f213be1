"""A card's clock over the day: silent takes, jumps, contradictions, honest uncertainty. No audio."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from rollsound.conform.clock import Observation, fit_clock_model
from rollsound.conform.model import ClockMap
from rollsound.errors import InputError
from rollsound.timecode.clocks import drift_samples

RATE = 48_000
Floats = NDArray[np.float64]
Truth = Callable[[Floats], Floats]


def seen(
    truth: Truth, starts: list[float], seed: int = 1, sigma: float = 0.02, long: float = 120.0
) -> list[Observation]:
    """Two noisy places a take: its start and end."""
    rng = np.random.default_rng(seed)
    out = []
    for n, start in enumerate(starts):
        t = np.array([start, start + long])
        y = truth(t) + rng.normal(0.0, sigma, 2)
        out.append(Observation(f"T{n}", 0, tuple(t * RATE), tuple(y), (sigma, sigma)))
    return out


def line(ppm: float) -> Truth:
    return lambda t: 1000.3 + t * RATE * (1 + ppm * 1e-6)


def warming(t: Floats) -> Floats:
    """12 ppm, half a ppm of slow change over eight hours, as a day out of doors and in."""
    return 1000.3 + t * RATE * (1 + 12e-6) + 0.25e-6 * RATE * 4584.0 * (1 - np.cos(t / 4584.0))


@pytest.mark.source("DERIVED: drift = ppm x 1e-6 x time (timecode.clocks.drift_samples)", kind="practice")
@pytest.mark.parametrize("ppm", [-48.2, 0.0, 39.6])
def test_the_days_rate_is_that_of_the_crystal(ppm: float) -> None:
    model = fit_clock_model("C01", seen(line(ppm), [0.0, 1800.0, 3600.0, 9000.0]), 1.0, RATE)
    assert model.rate_ppm == pytest.approx(ppm, abs=0.005)
    assert model.rate_ppm != pytest.approx(ppm + 0.05, abs=0.005)
    x = np.array([36_000.0 * RATE])
    away = model.predict(model.segments[0], x)[0][0] - 1000.3 - 36_000.0 * RATE
    # ten hours on, 7.5 hours past the last take: within what the model itself states
    assert abs(away - drift_samples(ppm, 36_000.0, RATE)) < 4 * model.predict(model.segments[0], x)[1][0]


@pytest.mark.parametrize("truth", [line(37.4), warming], ids=["steady", "warming"])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_silent_take_is_placed_within_a_sample(truth: Truth, seed: int) -> None:
    """Takes every 20 minutes; each in turn is left out and placed by the others. One sample is the goal."""
    starts = [float(v) for v in range(0, 28_800, 1200)]
    observations = seen(truth, starts, seed)
    worst, in_sigmas = 0.0, []
    for n in range(1, len(starts) - 1, 3):
        model = fit_clock_model("C01", observations[:n] + observations[n + 1 :], 1.0, RATE)
        t = np.linspace(starts[n], starts[n] + 120.0, 3)
        segment = model.segment_at(0, float(t[1] * RATE))
        assert segment is not None
        y, sigma = model.predict(segment, t * RATE)
        worst = max(worst, float(np.max(np.abs(y - truth(t)))))
        in_sigmas.extend(np.abs(y - truth(t)) / sigma)
    assert worst < 1.0
    assert np.mean(np.array(in_sigmas) < 2.0) > 0.85  # 95 % by theory, for a clock that wanders as modelled
    assert max(in_sigmas) < 5.0


def test_uncertainty_grows_with_distance_from_the_takes() -> None:
    model = fit_clock_model("C01", seen(line(5.0), [0.0, 1200.0, 2400.0]), 1.0, RATE)
    sigma = model.predict(0, np.array([2520.0, 2700.0, 3600.0, 20_000.0]) * RATE)[1]
    assert np.all(np.diff(sigma) >= -1e-3)
    assert sigma[-1] > 10 * sigma[0]


@pytest.mark.parametrize("jump", [-11_760.0, 480.0, 5.0])
def test_a_jam_between_takes_is_a_step(jump: float) -> None:
    starts = [float(v) for v in range(0, 9_000, 900)]

    def truth(t: Floats) -> Floats:
        return line(17.3)(t) + np.where(t > 4000.0, jump, 0.0)

    model = fit_clock_model("C08", seen(truth, starts), 1.0, RATE)
    assert len(model.steps) == 1
    step = model.steps[0]
    assert step.samples == pytest.approx(jump, abs=0.5)
    assert step.after_x < 4000.0 * RATE < step.before_x
    assert model.contradicting == ()
    assert model.rate_ppm == pytest.approx(17.3, abs=0.01)
    # a silent take right between has two possible places
    assert model.segment_at(0, 4000.0 * RATE) is None
    assert "jump" in model.sentence


@pytest.mark.parametrize("which", [3, 9])
def test_a_take_that_contradicts_is_named_and_left_out(which: int) -> None:
    """210 samples: another person's mic at a metre and a half."""
    observations = seen(line(17.3), [float(v) for v in range(0, 9_000, 900)])
    odd = observations[which]
    observations[which] = Observation(odd.take, 0, odd.x, tuple(y + 210.0 for y in odd.y), odd.sigma)
    model = fit_clock_model("C08", observations, 1.0, RATE)
    assert model.contradicting == (odd.take,)
    assert model.steps == ()
    assert f"{odd.take} does not fit" in model.sentence
    assert model.rate_ppm == pytest.approx(17.3, abs=0.01)


def test_a_walk_past_a_boom_contradicts_by_its_rate() -> None:
    """A take whose line is perfect but 14.6 ppm off the crystal: an actor who walked 3 m in ten minutes."""
    observations = seen(line(7.4), [0.0, 1200.0, 2400.0, 3600.0, 4800.0], long=600.0)
    x = np.array(observations[2].x)
    walked = tuple(line(7.4 - 14.58)(x / RATE) + 14.58e-6 * x[0])
    observations[2] = Observation("T2", 0, observations[2].x, walked, (0.02, 0.02))
    model = fit_clock_model("C01", observations, 1.0, RATE)
    assert model.contradicting == ("T2",)
    assert model.rate_ppm == pytest.approx(7.4, abs=0.01)


def test_a_restart_knows_the_rate_but_not_the_phase() -> None:
    first = seen(line(5.0), [0.0, 1200.0])
    later = [
        Observation(
            "L",
            1,
            tuple(np.array([5000.0, 5120.0]) * RATE),
            tuple(line(5.0)(np.array([5000.0, 5120.0])) - 777),
            (0.02, 0.02),
        )
    ]
    model = fit_clock_model("C01", first + later, 1.0, RATE)
    assert model.contradicting == ()
    assert model.steps == ()
    assert len(set(model.segments)) == 2
    y, sigma = model.predict(model.segments[-1], np.array([5300.0 * RATE]))
    assert y[0] == pytest.approx(line(5.0)(np.array([5300.0]))[0] - 777, abs=1.0)
    assert sigma[0] < 1.0


def test_time_stamps_that_scatter_are_told_and_believed_less() -> None:
    """A recorder whose stamps are good to 30 samples only: no jumps are made up, the scatter is stated."""
    rng = np.random.default_rng(5)
    observations = []
    for o in seen(line(17.3), [float(v) for v in range(0, 18_000, 900)]):
        late = float(rng.normal(0.0, 30.0))
        observations.append(Observation(o.take, 0, o.x, tuple(y + late for y in o.y), o.sigma))
    model = fit_clock_model("C01", observations, 1.0, RATE)
    assert 10.0 < model.jitter_samples < 90.0
    assert model.steps == ()
    assert "scatter" in model.sentence
    _, sigma = model.predict(0, np.array([5000.0 * RATE]))
    assert sigma[0] > 10.0


def test_nothing_seen_is_said_so() -> None:
    model = fit_clock_model("C01", [], 1.0, RATE)
    assert "nothing is known" in model.sentence
    assert model.segment_at(0, 0.0) is None


def test_another_nominal_rate() -> None:
    ratio = 44_100 / RATE
    observations = [
        Observation(o.take, 0, o.x, tuple(ratio * y for y in o.y), o.sigma)
        for o in seen(line(5.0), [0.0, 600.0, 1200.0])
    ]
    model = fit_clock_model("C01", observations, ratio, RATE)
    assert model.rate_ppm == pytest.approx(5.0, abs=0.01)


@given(
    offset=st.floats(-1e9, 1e9),
    ppm=st.floats(-100.0, 100.0),
    frames=st.integers(1, 2_000_000_000),
    at=st.floats(-0.5, 1.5),
)
def test_a_map_and_its_inverse(offset: float, ppm: float, frames: int, at: float) -> None:
    clock = ClockMap.straight(offset, ppm, frames)
    n = at * frames
    # float64 holds positions of 1e9 to 1e-7
    assert clock.frame_of(float(clock.at(n))) == pytest.approx(n, abs=1e-4)
    assert clock.shifted(7.0).at(n) == pytest.approx(float(clock.at(n)) + 7.0, abs=1e-6)


def test_the_line_of_a_map() -> None:
    offset, ppm = ClockMap.straight(1234.37, 37.4, 28_800_000).line
    assert offset == pytest.approx(1234.37, abs=1e-6)
    assert ppm == pytest.approx(37.4, abs=1e-6)


@pytest.mark.parametrize("knots", [([0], [1.0]), ([0, 0], [1.0, 2.0]), ([0, 1], [1.0])])
def test_maps_that_are_none_are_refused(knots: tuple[list[int], list[float]]) -> None:
    with pytest.raises(InputError):
        ClockMap(np.array(knots[0], np.int64), np.array(knots[1]))


def test_the_clock_in_words_has_a_true_minus_and_thousands_apart() -> None:
    takes = seen(line(-6.6), [0.0, 600.0, 1200.0, 1800.0])
    late = seen(lambda t: line(-6.6)(t) - 11_760, [2400.0, 3000.0, 3600.0, 4200.0], seed=2)
    moved = [Observation(f"L{n}", 0, each.x, each.y, each.sigma) for n, each in enumerate(late)]
    said = fit_clock_model("C01", [*takes, *moved], 1.0, RATE).sentence
    assert said.startswith("−6.60 ppm over 8 takes")
    assert "1 jump (−11,760 samples" in said
