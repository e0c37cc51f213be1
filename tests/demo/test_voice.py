"""The voices are held against published figures of human ones."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.linalg
import scipy.signal
from numpy.typing import NDArray

from rollsound.demo.scenario import PEOPLE, Person, person
from rollsound.demo.voice import FRAME, VOICE, VOWELS, _Score, render, sing, speak

RATE = 48000
# ANSI S3.5-1997, table 1: critical bands in Hz, spectrum level of speech at normal effort in dB
ANSI_NORMAL = {
    250: 34.75,
    350: 34.14,
    450: 34.58,
    570: 33.17,
    700: 30.64,
    840: 27.59,
    1000: 25.01,
    1170: 23.52,
    1370: 22.28,
    1600: 20.15,
    1850: 18.29,
    2150: 16.37,
    2500: 13.80,
    2900: 12.21,
    3400: 11.09,
    4000: 9.33,
    4800: 5.84,
    5800: 3.47,
    7000: 1.78,
    8500: -0.14,
}
MEN = ("Bram", "Idris", "Tomasz", "Okello", "Haru")


def company() -> NDArray[np.float64]:
    parts = []
    for n, who in enumerate(PEOPLE):
        voice = np.concatenate([speak(who, 2.5, np.random.default_rng([n, k])) for k in range(5)]).astype(float)
        parts.append(voice / voice.std())
    return np.concatenate(parts)


def furthest_from_ansi(sound: NDArray[np.float64]) -> float:
    """The worst band's distance from the published spectrum after both are set to the same mean below 1.2 kHz."""
    f, power = scipy.signal.welch(sound, RATE, nperseg=4096)
    ours = {c: 10 * np.log10(power[(f > 0.9 * c) & (f < 1.1 * c)].mean()) for c in ANSI_NORMAL}
    lift = np.mean([ANSI_NORMAL[c] - ours[c] for c in ANSI_NORMAL if c < 1200])
    return float(max(abs(ours[c] + lift - ANSI_NORMAL[c]) for c in ANSI_NORMAL))


@pytest.mark.source("ANSI S3.5-1997, table 1, normal speech, as carried by public code", kind="published")
def test_the_company_has_the_spectrum_of_speech() -> None:
    # languages and talkers differ by some 6 dB a band in published comparisons; ours may by 8
    assert furthest_from_ansi(company()) < 8.0


@pytest.mark.source("ANSI S3.5-1997, table 1, normal speech, as carried by public code", kind="published")
def test_noise_does_not_have_the_spectrum_of_speech() -> None:
    assert furthest_from_ansi(np.random.default_rng(1).standard_normal(RATE * 20)) > 15.0


def pitch_hz(sound: NDArray[np.float32]) -> NDArray[np.float64]:
    """Pitch of every clearly voiced 40 ms, by autocorrelation."""
    step, size = 960, 1920
    found = []
    low = scipy.signal.sosfiltfilt(scipy.signal.butter(4, 900, fs=RATE, output="sos"), sound)
    for at in range(0, low.size - size, step):
        x = low[at : at + size] - low[at : at + size].mean()
        r = scipy.signal.correlate(x, x, method="fft")[size - 1 :]
        if r[0] < 1e-6 * size:
            continue
        r = r / np.arange(size, 0, -1)
        lags = slice(RATE // 450, RATE // 60)
        best = int(np.argmax(r[lags])) + RATE // 450
        if r[best] > 0.6 * r[0]:
            # the shortest period that is nearly as good, not a multiple of it
            nearly = np.flatnonzero(r[lags] > 0.9 * r[best]) + RATE // 450
            found.append(RATE / float(nearly[0]))
    return np.array(found)


@pytest.mark.source(
    "Holmberg, Hillman & Perkell 1989: speaking pitch low to high, men 82-191, women 134-309 Hz", kind="published"
)
@pytest.mark.parametrize("who", PEOPLE, ids=lambda p: p.name)
def test_people_speak_at_a_human_pitch(who: Person) -> None:
    low, high = (82.0, 191.0) if who.name in MEN else (134.0, 309.0)
    pitch = pitch_hz(np.concatenate([speak(who, 2.5, np.random.default_rng([7, k])) for k in range(4)]))
    assert pitch.size > 40
    assert low < float(np.median(pitch)) < high


def formants_of(sound: NDArray[np.float64]) -> list[float]:
    """Resonances below 3.3 kHz by linear prediction at 10 kHz."""
    x = scipy.signal.resample_poly(sound, 5, 24)
    x = scipy.signal.lfilter([1, -0.95], [1], x) * np.hanning(x.size)
    r = scipy.signal.correlate(x, x, method="fft")[x.size - 1 : x.size + 12]
    a = np.concatenate([[1.0], -scipy.linalg.solve_toeplitz(r[:12], r[1:13])])
    roots = np.roots(a)
    roots = roots[np.imag(roots) > 0]
    hz = np.angle(roots) * 10_000 / (2 * np.pi)
    width = -np.log(np.abs(roots)) * 10_000 / np.pi
    return sorted(float(f) for f, w in zip(hz, width, strict=True) if 150 < f < 3300 and w < 500)


# Peterson & Barney 1952, averages of 33 men: F1 and F2 in Hz, written here apart from the table that makes the sound
PETERSON_BARNEY = {"i": (270, 2290), "A": (730, 1090), "a": (660, 1720), "e": (530, 1840), "u": (300, 870)}


def steady(vowel: str) -> list[float]:
    man = Person("man", "", 110.0, 1.0, 0.03, 0.0)
    score = _Score(man)
    score.vowel(vowel, 0.6, 110.0, 0.9)
    return formants_of(render(score.finish(), man, 5)[4800:24000].astype(float))


@pytest.mark.source("Peterson & Barney 1952, averages of men", kind="published")
@pytest.mark.parametrize("vowel", PETERSON_BARNEY)
def test_vowels_have_their_formants(vowel: str) -> None:
    found = steady(vowel)
    for expected in PETERSON_BARNEY[vowel]:
        # between speakers the published spread is about 10 %; linear prediction adds a harmonic's half spacing
        assert min(abs(f - expected) for f in found) < 0.1 * expected + 55.0, (expected, found)


@pytest.mark.source("Peterson & Barney 1952, averages of men", kind="published")
def test_a_vowel_does_not_have_anothers_formants() -> None:
    found = steady("i")
    assert min(abs(f - 1090) for f in found) > 0.1 * 1090 + 55.0


@pytest.mark.source("sibilants: /s/ peaks near 7 kHz, /sh/ near 3.5 kHz, energy beyond 12 kHz", kind="memory")
def test_sibilants_reach_high() -> None:
    def spectrum(name: str) -> tuple[float, float]:
        score = _Score(PEOPLE[0])
        for _ in range(8):
            score.consonant(name, "A", 100.0, 1.0)
        f, power = scipy.signal.welch(render(score.finish(), PEOPLE[0], 3), RATE, nperseg=512)
        return float(f[np.argmax(power)]), float(10 * np.log10(power[(f > 12e3) & (f < 16e3)].mean() / power.max()))

    assert 5500 < spectrum("s")[0] < 8000
    assert 2600 < spectrum("S")[0] < 4200
    assert spectrum("s")[1] > -25.0


@pytest.mark.source("sung vibrato of 5 to 7 a second", kind="memory")
def test_singers_hold_their_note_with_vibrato() -> None:
    sound = sing(person("Idris"), [(0.0, 3.0, 147.0)], np.random.default_rng(2), 3.2)
    analytic = scipy.signal.hilbert(
        scipy.signal.sosfiltfilt(
            scipy.signal.butter(4, [110, 190], "band", fs=RATE, output="sos"), sound[RATE // 2 : 5 * RATE // 2]
        )
    )
    hz = scipy.signal.decimate(np.diff(np.unwrap(np.angle(analytic))) * RATE / (2 * np.pi), 12, ftype="fir")
    hz = scipy.signal.sosfiltfilt(scipy.signal.butter(2, 12, fs=RATE / 12, output="sos"), hz)[400:-400]
    assert float(np.median(hz)) == pytest.approx(147.0, rel=0.012)
    swing = np.abs(np.fft.rfft(hz - hz.mean(), 65536))
    assert 4.5 < np.argmax(swing) * RATE / 12 / 65536 < 7.0


def test_eleven_people_are_told_apart() -> None:
    assert len({(p.pitch_hz, p.tract, p.breath) for p in PEOPLE}) == len(PEOPLE) == 11
    assert len({p.name for p in PEOPLE}) == 11


def test_pauses_are_silent_and_nothing_overflows() -> None:
    sound = speak(PEOPLE[2], 4.0, np.random.default_rng(3))
    assert float(np.abs(sound).max()) < 1.5
    quiet = np.abs(sound).reshape(-1, FRAME).max(axis=1)
    assert float(np.mean(quiet < 1e-3)) > 0.05


def test_an_empty_score_is_no_sound() -> None:
    assert render(_Score(PEOPLE[0]).finish(), PEOPLE[0], 1).size == 0
    assert set(VOWELS) >= set(PETERSON_BARNEY)
    assert VOICE == 1
