"""Reading linear time code under every condition that a set offers."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, sosfilt

from rollsound.errors import InputError
from rollsound.timecode import RATES, LtcDecoder, LtcEntry, Rate, Timecode, encode_ltc

SINGLE = [rate for rate in RATES if rate.nominal <= 30]
R25 = Rate.parse("25")
TEN = Timecode.parse("10:00:00:00", R25)


def read(
    sound: np.ndarray, sample_rate_hz: int = 48_000, rate: Rate | None = None
) -> tuple[LtcDecoder, list[LtcEntry]]:
    decoder = LtcDecoder(sample_rate_hz, rate)
    found = decoder.feed(sound.astype(np.float32))
    return decoder, found + decoder.finish()


def labels(start: Timecode, frames: int, step: int = 1) -> list[Timecode]:
    return [start.plus(step * i) for i in range(frames)]


def noisy(sound: np.ndarray, snr_db: float, seed: int = 3) -> np.ndarray:
    rms = float(np.sqrt((sound.astype(np.float64) ** 2).mean()))
    return sound + np.random.default_rng(seed).normal(0, rms * 10 ** (-snr_db / 20), sound.size)


@pytest.mark.parametrize("rate", RATES, ids=str)
@pytest.mark.parametrize("sample_rate_hz", [16_000, 44_100, 48_000, 48_048, 96_000, 192_000])
@pytest.mark.parametrize("reverse", [False, True], ids=["forward", "reverse"])
def test_every_rate_both_ways_over_midnight(rate: Rate, sample_rate_hz: int, reverse: bool) -> None:
    start = Timecode(0, 0, 0, 20, rate) if reverse else Timecode(23, 59, 59, 0, rate)
    per_word = 2 if rate.nominal > 30 else 1
    frames = 48 * per_word
    sound = encode_ltc(
        start, frames, sample_rate_hz, reverse=reverse, user_bits=b"\x12\x34\x56\x78", groups=5, colour_frame=True
    )
    decoder, found = read(sound, sample_rate_hz, None if rate.nominal <= 30 else rate)
    assert [entry.timecode for entry in found] == labels(start, 48, -per_word if reverse else per_word)
    assert decoder.rate == rate
    assert decoder.gaps == decoder.jumps == decoder.strange == []
    assert {(e.direction, e.user_bits, e.groups, e.colour_frame, e.polarity_holds) for e in found} == {
        ("reverse" if reverse else "forward", b"\x12\x34\x56\x78", 5, True, True)
    }


@pytest.mark.parametrize("rate", SINGLE, ids=str)
@pytest.mark.parametrize("offset", [Fraction(0), Fraction(1, 3), Fraction(3, 4)], ids=str)
@pytest.mark.parametrize("reverse", [False, True], ids=["forward", "reverse"])
def test_frame_start_to_a_hundredth_of_a_sample(rate: Rate, offset: Fraction, reverse: bool) -> None:
    """Worst frame below 0.01 sample: what the cubic leaves of a 40 µs edge at 48 kHz once smoothed (0.007 seen)."""
    sound = encode_ltc(Timecode(10, 0, 0, 0, rate), 100, 48_000, reverse=reverse,
                       offset_samples=offset)  # fmt: skip
    _, found = read(sound)
    frame = rate.samples_per_frame(48_000)
    if reverse:
        exact = [sound.size - 1 - (offset + (99 - i) * frame) for i in range(100)]
    else:
        exact = [offset + i * frame for i in range(100)]
    away = np.array([entry.sample - float(place) for entry, place in zip(found, exact, strict=True)])
    assert np.abs(away).max() < 0.01


@pytest.mark.parametrize("level_dbfs", [0.0, -20.0, -50.0, -70.0])
@pytest.mark.parametrize("offset", [0.0, 0.5])
def test_level_from_full_scale_down(level_dbfs: float, offset: float) -> None:
    sound = encode_ltc(TEN, 60, 48_000, level_dbfs)
    _, found = read(sound + np.float32(offset * 10 ** (level_dbfs / 20)))
    assert [entry.timecode for entry in found] == labels(TEN, 60)
    assert [entry.level_dbfs for entry in found[1:]] == pytest.approx([level_dbfs] * 59, abs=0.1)


@pytest.mark.parametrize("rate", SINGLE, ids=str)
@pytest.mark.parametrize("reverse", [False, True], ids=["forward", "reverse"])
def test_15_db_of_signal_to_noise_loses_nothing(rate: Rate, reverse: bool) -> None:
    start = Timecode(10, 0, 0, 0, rate)
    decoder, found = read(noisy(encode_ltc(start, 400, 48_000, -30, reverse=reverse), 15))
    # White noise at the very ends may take the frame that has only one neighbour; none in the middle.
    assert [entry.timecode for entry in found] == labels(start, 400, -1 if reverse else 1)
    assert decoder.rate == rate
    assert decoder.speed_ppm == pytest.approx(0, abs=0.2)


@pytest.mark.parametrize("snr_db", [8, 6, 4, 2, 0, -3])
def test_worse_noise_loses_frames_but_makes_up_none(snr_db: int) -> None:
    for seed in range(4):
        decoder, found = read(noisy(encode_ltc(TEN, 250, 48_000), snr_db, seed))
        for entry in found:
            place = round(entry.sample / 1920)
            assert entry.timecode == TEN.plus(place)
            assert abs(entry.sample - 1920 * place) < 1.0
        lost = 250 - len(found)
        assert lost == 0 or decoder.gaps or not found or found[0].timecode != TEN or found[-1].timecode != TEN.plus(249)


def test_8_db_loses_hardly_any() -> None:
    _, found = read(noisy(encode_ltc(TEN, 1000, 48_000), 8))
    assert len(found) >= 995


@pytest.mark.parametrize("seed", range(3))
def test_noise_and_tones_hold_no_time(seed: int) -> None:
    random = np.random.default_rng(seed)
    seconds = np.arange(48_000 * 8) / 48_000
    for sound in (
        random.normal(0, 0.1, seconds.size),
        np.sin(2 * np.pi * 1000 * seconds),
        np.sign(np.sin(2 * np.pi * 960 * seconds)),
        np.repeat(random.choice([-0.5, 0.5], seconds.size // 12), 12),
        np.zeros(seconds.size),
    ):
        assert read(sound)[1] == []


@pytest.mark.parametrize("speed", [Fraction(1, 2), Fraction(3, 4), Fraction(9, 10), Fraction(5, 4), Fraction(3, 2), 2])
@pytest.mark.parametrize("rate", SINGLE, ids=str)
@pytest.mark.parametrize("reverse", [False, True], ids=["forward", "reverse"])
def test_other_speeds(speed: Fraction, rate: Rate, reverse: bool) -> None:
    start = Timecode(10, 0, 59, 0, rate)
    sound = encode_ltc(start, 90, Fraction(48_000) / speed, reverse=reverse)
    decoder, found = read(sound)
    assert [(e.timecode.seconds, e.timecode.frames) for e in found] == [
        (label.seconds, label.frames) for label in labels(start, 90, -1 if reverse else 1)
    ]
    assert decoder.rate is not None
    assert decoder.rate.nominal == rate.nominal  # seen where the seconds change, whatever the speed


@pytest.mark.parametrize(("slow", "fast"), [(0.5, 2.0), (2.0, 0.5), (1.0, 0.4)])
def test_speed_that_changes_all_the_time(slow: float, fast: float) -> None:
    sound = encode_ltc(TEN, 250, 48_000)
    places = np.cumsum(np.linspace(slow, fast, sound.size))
    places = places[places < sound.size - 1]
    _, found = read(np.interp(places, np.arange(sound.size), sound))
    frames = int(places[-1] // 1920)
    assert [entry.timecode for entry in found][: frames - 1] == labels(TEN, frames - 1)


@pytest.mark.source("23.976/24 and 29.97/30 differ by 1000 ppm, crystals by at most 100", kind="practice")
@pytest.mark.parametrize("rate", SINGLE, ids=str)
@pytest.mark.parametrize("ppm", [-100, -30, 30, 100])
def test_bit_rate_tells_pulled_rates_apart(rate: Rate, ppm: int) -> None:
    sound = encode_ltc(Timecode(10, 0, 0, 0, rate), 70, 48_000 * Fraction(1_000_000 - ppm, 1_000_000))
    decoder, _ = read(sound)
    assert decoder.rate == rate
    assert decoder.speed_ppm == pytest.approx(ppm, abs=0.2)


def test_a_pulled_recording_looks_like_the_other_rate() -> None:
    """The proof that the inference can fail: 24 frames at a stamp of 48048 are 23.976 to everybody."""
    decoder, _ = read(encode_ltc(Timecode(10, 0, 0, 0, Rate.parse("24")), 70, 48_048), 48_000)
    assert str(decoder.rate) == "23.976"


@pytest.mark.parametrize("before", ["sine", "square", "noise", "silence", "offset"])
def test_starts_after_other_sound(before: str) -> None:
    seconds = np.arange(48_000) / 48_000
    sound = {
        "sine": 0.9 * np.sin(2 * np.pi * 1000 * seconds),
        "square": np.sign(np.sin(2 * np.pi * 1000 * seconds)),
        "noise": np.random.default_rng(1).normal(0, 0.3, 48_000),
        "silence": np.zeros(48_000),
        "offset": np.full(48_000, 0.9),
    }[before]
    _, found = read(np.concatenate([sound, encode_ltc(TEN, 50, 48_000, -40)]))
    # The level finder needs some milliseconds to come down from loud sound: one frame may go.
    assert found[0].timecode in (TEN, TEN.plus(1))
    assert [entry.timecode for entry in found] == labels(found[0].timecode, len(found))
    assert found[-1].timecode == TEN.plus(49)
    first = TEN.plus(round((found[0].sample - 48_000) / 1920))
    assert found[0].timecode == first
    assert found[0].sample == pytest.approx(48_000 + 1920 * (first.frames), abs=0.05)


def test_gap_is_reported_with_place_and_length() -> None:
    sound = encode_ltc(TEN, 250, 48_000)
    sound[100 * 1920 : 130 * 1920] = 0
    decoder, found = read(sound)
    assert [e.timecode for e in found] == labels(TEN, 100) + labels(TEN.plus(130), 120)
    assert len(decoder.gaps) == 1
    assert decoder.gaps[0] == pytest.approx((192_000, 57_600), abs=0.05)
    assert decoder.jumps == []


def test_jam_is_reported() -> None:
    sound = np.concatenate([encode_ltc(TEN, 25, 48_000), encode_ltc(TEN.plus(1000), 50, 48_000)[777:]])
    decoder, found = read(sound)
    assert [e.timecode for e in found] == labels(TEN, 25) + labels(TEN.plus(1001), 49)
    jump = decoder.jumps[0]
    assert (jump.expected, jump.found) == (TEN.plus(26), TEN.plus(1001))
    assert jump.sample == pytest.approx(48_000 + 1143, abs=0.05)
    assert decoder.gaps[0] == pytest.approx((48_000, 1143), abs=0.05)


def test_shuttle_forward_back_and_forward() -> None:
    sound = encode_ltc(TEN, 100, 48_000)
    _, found = read(np.concatenate([sound, sound[::-1], sound]))
    assert [e.timecode for e in found] == labels(TEN, 100) + labels(TEN.plus(99), 100, -1) + labels(TEN, 100)
    assert [e.direction for e in found] == ["forward"] * 100 + ["reverse"] * 100 + ["forward"] * 100


def test_another_rate_after_a_splice() -> None:
    film = Timecode(11, 0, 0, 0, Rate.parse("24"))
    decoder, found = read(np.concatenate([encode_ltc(TEN, 100, 48_000), encode_ltc(film, 100, 48_000)]))
    assert [e.timecode for e in found] == labels(TEN, 100) + labels(film, 100)
    assert decoder.rate == film.rate


def test_a_label_that_does_not_exist_is_reported_not_moved() -> None:
    """A generator that counts 00;00 in a drop minute: the non-drop count with the drop flag set."""
    drop, plain = Rate.parse("29.97DF"), Rate.parse("29.97")
    sound = encode_ltc(Timecode(10, 0, 58, 0, plain), 180, 48_000)
    _, found = read(sound, rate=drop)
    decoder = LtcDecoder(48_000, drop)
    found = decoder.feed(sound) + decoder.finish()
    assert decoder.drop_flag_differs
    assert [s.sentence[:11] for s in decoder.strange] == ["10:01:00;00", "10:01:00;01"]
    assert [str(jump.found) for jump in decoder.jumps] == ["10:01:00;02"]
    assert str(found[-1].timecode) == "10:01:03;29"


def test_wiring_and_missing_polarity_bit() -> None:
    straight = read(encode_ltc(TEN, 30, 48_000))[1]
    swapped = read(encode_ltc(TEN, 30, 48_000, inverted=True))[1]
    assert {e.rising for e in straight} == {True}
    assert {e.rising for e in swapped} == {False}
    bare = read(encode_ltc(TEN, 30, 48_000, polarity=False))[1]
    assert [e.timecode for e in bare] == labels(TEN, 30)
    assert {e.polarity_holds for e in bare} == {True, False}


@pytest.mark.source("cable, transformer and hum on a time code line; common practice, no source", kind="practice")
@pytest.mark.parametrize("damage", ["low-pass 3 kHz", "high-pass 300 Hz", "hum", "clipped", "fading", "8 bit"])
def test_a_poor_line(damage: str) -> None:
    sound = encode_ltc(TEN, 100, 48_000, -20).astype(np.float64)
    n = np.arange(sound.size)
    damaged = {
        "low-pass 3 kHz": lambda: sosfilt(butter(2, 3000, fs=48_000, output="sos"), sound),
        "high-pass 300 Hz": lambda: sosfilt(butter(1, 300, "high", fs=48_000, output="sos"), sound),
        "hum": lambda: sound + 0.1 * np.sin(2 * np.pi * 50 * n / 48_000),
        "clipped": lambda: np.clip(30 * sound, -1, 1),
        "fading": lambda: sound * np.exp(-n / 48_000 * 1.5),
        "8 bit": lambda: np.round(sound * 100) / 100,
    }[damage]()
    _, found = read(damaged)
    assert [entry.timecode for entry in found] == labels(TEN, 100)


CONDITIONS = st.sampled_from(["clean", "noise", "gap", "reverse", "splice"])


@settings(max_examples=40, deadline=None)
@given(
    rate=st.sampled_from(SINGLE),
    condition=CONDITIONS,
    sample_rate_hz=st.sampled_from([48_000, 96_000]),
    sizes=st.lists(st.sampled_from([0, 1, 2, 3, 7, 159, 160, 1601, 1602, 1920, 5000, 20_001]), min_size=1, max_size=6),
    user=st.binary(min_size=4, max_size=4),
)
def test_streaming_equals_one_shot(
    rate: Rate, condition: str, sample_rate_hz: int, sizes: list[int], user: bytes
) -> None:
    sound = encode_ltc(Timecode(10, 0, 59, 0, rate), 60, sample_rate_hz, user_bits=user, reverse=condition == "reverse")
    if condition == "noise":
        sound = noisy(sound, 8)
    if condition == "gap":
        sound[sound.size // 3 : sound.size // 2] = 0
    if condition == "splice":
        sound = np.concatenate([sound[: sound.size // 2 + 311], sound[::-1]])
    sound = sound.astype(np.float32)
    whole, found = read(sound, sample_rate_hz)
    parts, pieces = LtcDecoder(sample_rate_hz), []
    position, turn = 0, 0
    while position < sound.size:
        size = sizes[turn % len(sizes)] if any(sizes) else sound.size
        if turn > 3000:
            size = sound.size
        pieces += parts.feed(sound[position : position + size])
        position, turn = position + size, turn + 1
    pieces += parts.finish()
    assert pieces == found
    assert (parts.gaps, parts.jumps, parts.rate, parts.rejected) == (
        whole.gaps,
        whole.jumps,
        whole.rate,
        whole.rejected,
    )


PIECE = st.tuples(
    st.sampled_from(["code", "code", "backwards", "swapped", "noise", "silence", "tone", "faint"]),
    st.integers(0, 86_000),  # first second of the day
    st.integers(0, 1600),  # samples cut from its start
    st.integers(1, 40),  # frames
)


@settings(max_examples=60, deadline=None)
@given(
    rate=st.sampled_from(SINGLE), pieces=st.lists(PIECE, min_size=1, max_size=5), snr_db=st.sampled_from([60, 20, 10])
)
def test_no_cut_or_splice_makes_a_wrong_time(rate: Rate, pieces: list[tuple[str, int, int, int]], snr_db: int) -> None:
    frame = rate.samples_per_frame(48_000)
    sounds: list[np.ndarray] = []
    truth: list[tuple[int, Timecode]] = []
    position = 0
    random = np.random.default_rng(1)
    for kind, second, cut, frames in pieces:
        start = Timecode.from_frames(second * rate.nominal, rate)
        sound = encode_ltc(start, frames, 48_000, reverse=kind == "backwards", inverted=kind == "swapped")
        if kind == "noise":
            sound = random.normal(0, 0.2, sound.size)
        elif kind == "silence":
            sound = np.zeros(sound.size)
        elif kind == "tone":
            sound = 0.5 * np.sin(np.arange(sound.size) * 0.157)
        else:
            for i in range(frames):
                place = i * frame if kind != "backwards" else sound.size - 1 - (frames - 1 - i) * frame
                truth.append((round(position + place) - cut, start.plus(-i if kind == "backwards" else i)))
            sound = sound * (0.01 if kind == "faint" else 1.0)
        sounds.append(sound[cut:])
        position += sound.size - cut
    _, found = read(noisy(np.concatenate(sounds), snr_db), rate=rate)
    for entry in found:
        near = [label for place, label in truth if abs(place - entry.sample) < 3]
        assert entry.timecode in near


@settings(max_examples=40, deadline=None)
@given(
    rate=st.sampled_from(RATES),
    frames=st.integers(0, 5_000_000),
    user=st.binary(min_size=4, max_size=4),
    groups=st.integers(0, 7),
    length=st.integers(3, 12),
    reverse=st.booleans(),
    level_dbfs=st.floats(-50, 0),
    sample_rate_hz=st.sampled_from([32_000, 44_100, 48_000, 88_200]),
)
def test_round_trip(
    rate: Rate,
    frames: int,
    user: bytes,
    groups: int,
    length: int,
    reverse: bool,
    level_dbfs: float,
    sample_rate_hz: int,
) -> None:
    per_word = 2 if rate.nominal > 30 else 1
    start = Timecode.from_frames(frames - frames % 2, rate)
    sound = encode_ltc(
        start, length * per_word, sample_rate_hz, level_dbfs, reverse=reverse, user_bits=user, groups=groups
    )
    _, found = read(sound, sample_rate_hz, rate)
    assert [(e.timecode, e.user_bits, e.groups) for e in found] == [
        (label, user, groups) for label in labels(start, length, -per_word if reverse else per_word)
    ]


@pytest.mark.parametrize("length", [0, 1, 2, 1919, 1920, 1921, 3840, 5759, 5760, 5761])
def test_short_sounds(length: int) -> None:
    """Three whole words are the least that is believed."""
    _, found = read(encode_ltc(TEN, 5, 48_000)[:length])
    assert len(found) == (3 if length >= 5759 else 0)  # the last edge of a word may be missing


def test_a_wrong_sync_word_is_not_time_code(monkeypatch: pytest.MonkeyPatch) -> None:
    """Proof that the reader looks at the sync word: 12 ones made 11."""
    monkeypatch.setattr("rollsound.timecode.word.SYNC", 0xBFF8)
    sound = encode_ltc(TEN, 20, 48_000)
    monkeypatch.undo()
    assert read(sound)[1] == []


def test_broken_float_samples_cost_their_frames_only() -> None:
    sound = encode_ltc(TEN, 60, 48_000)
    sound[20 * 1920 + 700 : 20 * 1920 + 720] = np.nan
    sound[40 * 1920 + 700] = np.inf
    decoder, found = read(sound)
    missing = [i for i in range(60) if TEN.plus(i) not in [entry.timecode for entry in found]]
    assert set(missing) <= {20, 40}
    assert decoder.jumps == []


def test_memory_does_not_grow() -> None:
    """Neither code, nor a tone that looks like endless ones, leaves edges behind."""
    decoder = LtcDecoder(48_000)
    tone = np.sign(np.sin(2 * np.pi * 1200 * np.arange(48_000) / 48_000 + 0.1)).astype(np.float32)
    for sound in (tone, encode_ltc(TEN, 25, 48_000)):
        for _ in range(20):
            decoder.feed(sound)
        assert decoder._words._times.size < 400


def test_use_of_the_reader() -> None:
    with pytest.raises(InputError, match="at least 16000 Hz"):
        LtcDecoder(8000)
    decoder = LtcDecoder(48_000)
    with pytest.raises(InputError, match="one channel at a time"):
        decoder.feed(np.zeros((10, 2), np.float32))
    assert decoder.finish() == decoder.finish() == []
    assert decoder.rate is None
    assert decoder.speed_ppm is None
    with pytest.raises(InputError, match="use a new one"):
        decoder.feed(np.zeros(10, np.float32))
