"""Mends: damaged spans from the card, sounding like the radio around them; not one other bit changed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import signals
import takes
from numpy.typing import NDArray

from rollsound.conform.carry_out import carry_out, with_damage
from rollsound.conform.damage import Damage
from rollsound.conform.model import ClockMap, Place
from rollsound.conform.outcome import Origin
from rollsound.conform.plan import Action, ConformPlan, Mode
from rollsound.conform.planning import make_plan
from rollsound.conform.resample import Resampler
from rollsound.conform.tone import fit_tone
from rollsound.wave import open_wave

RATE = 48_000
SECONDS = 40.0
MUTES = ((5 * RATE, 9_600), (12 * RATE + 333, 1_000), (20 * RATE, 4_800), (20 * RATE + 5_200, 2_000))
BURST = (30 * RATE, 7_200)
Samples = NDArray[np.float64]


@pytest.fixture(scope="module")
def sound() -> tuple[Samples, Samples]:
    """The radio as it would be undamaged (30 dB link), and the card's own sound."""
    pair = signals.make_pair(SECONDS, 11, path=signals.RadioPath(muted=0.0, snr_db=30.0), talk=1.6)
    return pair.radio.astype(np.float64), pair.card.astype(np.float64)


def damaged(radio: Samples) -> Samples:
    out = radio.copy()
    for start, length in MUTES:
        out[start : start + length] = 0.0
    rng = np.random.default_rng(3)
    start, length = BURST
    out[start : start + length] = 0.3 * rng.standard_normal(length)
    return out


def written(folder: Path, sound: tuple[Samples, Samples], **fields: object) -> takes.Scene:
    boom = np.random.default_rng(1).uniform(-0.1, 0.1, sound[0].size)
    tracks = np.stack([boom, damaged(sound[0])], axis=1)
    return takes.scene(folder, tracks, [takes.Card(sound[1], 1234.37, 37.4, 1, fields=fields)])


def plan_of(scene: takes.Scene, out: Path, mode: Mode) -> ConformPlan:
    return make_plan(scene.alignments, {"12A-3": scene.files}, mode, out)


def read(path: Path | str, track: int) -> Samples:
    with open_wave(path) as reader:
        return reader.read_channel(track, 0, reader.info.frames).astype(np.float64)


def snr_db(got: Samples, true: Samples) -> float:
    return float(10 * np.log10(np.sum(true**2) / np.sum((got - true) ** 2)))


@pytest.mark.source("The undamaged radio track, known because the damage was put in", kind="published")
def test_only_damaged_spans_change_and_sound_as_they_would_have(tmp_path: Path, sound: tuple[Samples, Samples]) -> None:
    scene = written(tmp_path, sound)
    outcome = carry_out(plan_of(scene, tmp_path / "out", Mode.MEND).takes[0])
    track = outcome.tracks[1]
    before, after = read(scene.files[0], 1), read(outcome.outputs[0], 1)
    allowed = np.zeros(before.size, bool)
    for segment in track.segments:
        if segment.origin is Origin.CARD:
            allowed[segment.start_sample : segment.stop_sample] = True
    np.testing.assert_array_equal(after[~allowed], before[~allowed])
    np.testing.assert_array_equal(read(outcome.outputs[0], 0), read(scene.files[0], 0))
    for start, length in (*MUTES, BURST):
        assert allowed[start : start + length].all()
        span = slice(start, start + length)
        # The link's own noise lies 30 dB down and its compressor follows its own way; the raw card differs by 10 dB.
        assert snr_db(after[span], sound[0][span]) > 15.0
    assert np.mean(allowed) < 0.03
    # No step anywhere: the steepest rise is not steeper than the undamaged track's (the burst's is).
    assert np.max(np.abs(np.diff(after))) < 1.2 * np.max(np.abs(np.diff(sound[0])))


def test_every_span_is_told_with_its_levels(tmp_path: Path, sound: tuple[Samples, Samples]) -> None:
    scene = written(tmp_path, sound)
    track = carry_out(plan_of(scene, tmp_path / "out", Mode.MEND).takes[0]).tracks[1]
    assert track.action is Action.MEND
    for start, length in (*MUTES, BURST):
        span = next(s for s in track.spans if s.start_sample <= start < s.stop_sample)
        true = 10 * np.log10(np.mean(sound[0][start : start + length] ** 2))
        assert span.after_dbfs == pytest.approx(true, abs=3.0)
        assert span.kind is (Damage.BURST if start == BURST[0] else Damage.MUTE)
        if span.kind is Damage.BURST:
            assert span.level_dbfs == pytest.approx(20 * np.log10(0.3), abs=1.5)
    assert sum(s.origin is Origin.CARD for s in track.segments) == len({s.start_sample for s in track.spans})


def test_the_plan_can_be_shown_and_edited_first(tmp_path: Path, sound: tuple[Samples, Samples]) -> None:
    """A span that somebody strikes out stays damaged; the others are mended as listed."""
    scene = written(tmp_path, sound)
    plan = with_damage(plan_of(scene, tmp_path / "out", Mode.MEND))
    text = ConformPlan.from_json(plan.to_json())
    track = text.takes[0].tracks[1]
    assert track.spans
    kept = next(s for s in track.spans if s.start_sample <= MUTES[0][0] < s.stop_sample)
    spans = tuple(s.model_copy(update={"mend": s is not kept}) for s in track.spans)
    edited = text.takes[0].model_copy(
        update={"tracks": (text.takes[0].tracks[0], track.model_copy(update={"spans": spans}))}
    )
    outcome = carry_out(edited)
    before, after = read(scene.files[0], 1), read(outcome.outputs[0], 1)
    hole = slice(kept.start_sample, kept.stop_sample)
    np.testing.assert_array_equal(after[hole], before[hole])
    start, length = MUTES[2]
    assert np.any(after[start : start + length] != 0.0)
    assert outcome.tracks[1].spans[track.spans.index(kept)].after_dbfs is None


def test_comparing_writes_nothing(tmp_path: Path, sound: tuple[Samples, Samples]) -> None:
    scene = written(tmp_path, sound)
    outcome = carry_out(plan_of(scene, tmp_path / "out", Mode.COMPARE).takes[0])
    assert not (tmp_path / "out").exists()
    assert outcome.outputs == ()
    track = outcome.tracks[1]
    found = [s for s in track.spans if s.kind is Damage.MUTE]
    assert len(found) >= 3
    assert track.compared_samples == scene.frames
    # The compressor takes some decibels off the speech, the gain of the link is one.
    assert track.level_difference_db is not None
    assert -6.0 < track.level_difference_db < 1.0


def test_a_card_placed_at_the_source_is_mended_at_the_track(tmp_path: Path, sound: tuple[Samples, Samples]) -> None:
    """Told to lie 96 samples earlier than the radio, a mend moves it back: it must join the radio's own sound."""
    delay = 96.0
    scene = written(tmp_path, sound, place=Place.SOURCE, path_delay_samples=delay)
    object.__setattr__(scene.alignments[0], "map", ClockMap.straight(1234.37 + delay, 37.4, scene.frames))
    outcome = carry_out(plan_of(scene, tmp_path / "out", Mode.MEND).takes[0])
    assert outcome.tracks[1].place is Place.TRACK
    after = read(outcome.outputs[0], 1)
    start, length = MUTES[0]
    assert snr_db(after[start : start + length], sound[0][start : start + length]) > 15.0
    mirror = plan_of(scene, tmp_path / "mirror", Mode.MIRROR).takes[0].tracks[1]
    assert mirror.place is Place.SOURCE
    assert mirror.pieces[0].card_positions[0] == pytest.approx(1234.37 + delay)


@pytest.mark.source(
    "A known linear path: second-order high-pass at 80 Hz, fourth-order low-pass at 14 kHz", kind="published"
)
@pytest.mark.parametrize(("minimum_phase", "at_least_db"), [(False, 33.0), (True, 26.0)])
def test_the_path_is_learnt_from_around_the_span(minimum_phase: bool, at_least_db: float) -> None:
    """No noise, no compressor: what is learnt must restore the hole; unmatched, the card is 18 and 11 dB off."""
    path = signals.RadioPath(muted=0.0, companded=False, snr_db=70.0, minimum_phase=minimum_phase)
    pair = signals.make_pair(20.0, 7, path=path, talk=1.6)
    radio = pair.radio.astype(np.float64)
    card = Resampler.of_array(pair.card.astype(np.float64), ClockMap.straight(1234.37, 37.4, radio.size))
    energy = np.concatenate([[0.0], np.cumsum(radio**2)])
    start = 5 * RATE + int(np.argmax((energy[9_600:] - energy[:-9_600])[5 * RATE : 15 * RATE]))
    stop = start + 9_600
    hole = radio.copy()
    hole[start:stop] = 0.0
    tone = fit_tone(
        lambda at, n: hole[at : at + n],
        card.read,
        start,
        stop,
        inside=(0, radio.size),
        damaged=[],
        sample_rate_hz=RATE,
    )
    assert snr_db(tone.render(card.read, start, stop - start), radio[start:stop]) > at_least_db
    halves = [tone.render(card.read, start, 1_000), tone.render(card.read, start + 1_000, 8_600)]
    assert np.max(np.abs(np.concatenate(halves) - tone.render(card.read, start, 9_600))) < 1e-12
