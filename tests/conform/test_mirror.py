"""Mirrors: the recorder's file in everything but the sound of the tracks a card replaces."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import takes
import wavinfo
from lxml import etree
from numpy.typing import NDArray

from rollsound.conform.carry_out import RECORDS, carry_out
from rollsound.conform.model import CardPiece, ClockMap, Outcome
from rollsound.conform.plan import Action, ConformPlan, Mode
from rollsound.conform.planning import make_plan
from rollsound.errors import Halted, InputError, StorageError
from rollsound.progress import Event, Progress
from rollsound.wave import SampleFormat, open_set, open_wave, read_info

FRAMES = 150_000
RATE = 48_000


def tone(frequency_hz: float, positions: NDArray[np.float64]) -> NDArray[np.float64]:
    return 0.5 * np.sin(2 * np.pi * frequency_hz / RATE * positions)


def noise(channels: int, seed: int = 1) -> NDArray[np.float64]:
    return np.random.default_rng(seed).uniform(-0.5, 0.5, (FRAMES, channels))


def card(offset: float, ppm: float, track: int, length: int = FRAMES + 4000, **more: object) -> object:
    return takes.Card(tone(997.0, np.arange(float(length))), offset, ppm, track, **more)


def plan_of(scene: object, out: Path, mode: Mode = Mode.MIRROR) -> ConformPlan:
    return make_plan(scene.alignments, {"12A-3": scene.files}, mode, out)  # type: ignore[attr-defined]


def raw_track(path: Path, channel: int) -> NDArray[np.uint8]:
    with open_wave(path) as reader:
        form = reader.info.format
        raw = np.frombuffer(reader.read_bytes(0, reader.info.frames), np.uint8)
        return raw.reshape(-1, form.channels, form.sample_format.bytes)[:, channel]


def snr_db(got: NDArray[np.float64], true: NDArray[np.float64]) -> float:
    return float(10 * np.log10(np.sum(true**2) / np.sum((got - true) ** 2)))


@pytest.mark.parametrize("kind", [SampleFormat.PCM16, SampleFormat.PCM24, SampleFormat.PCM32, SampleFormat.FLOAT32])
@pytest.mark.parametrize("mono", [False, True])
@pytest.mark.source("The sine itself at the mapped positions; bytes of the source", kind="published")
def test_only_the_cards_tracks_change(tmp_path: Path, kind: SampleFormat, mono: bool) -> None:
    scene = takes.scene(
        tmp_path, noise(4), [card(1200.25, 37.0, 1), card(900.5, -12.0, 3)], sample_format=kind, mono=mono
    )
    outcome = carry_out(plan_of(scene, tmp_path / "out").takes[0])
    outputs = [tmp_path / "out" / path.name for path in scene.files]
    assert [Path(each) for each in outcome.outputs] == outputs
    with open_set(scene.files) as before, open_set(outputs) as after:
        assert after.info.frames == before.info.frames == FRAMES
        assert after.info.format == before.info.format
        assert after.info.start_samples == before.info.start_samples
        assert after.info.track_names == before.info.track_names
        for track, offset, ppm in ((1, 1200.25, 37.0), (3, 900.5, -12.0)):
            true = tone(997.0, ClockMap.straight(offset, ppm, FRAMES).at(np.arange(FRAMES)))
            got = after.read_channel(track, 0, FRAMES).astype(np.float64)
            # A sine at -6 dBFS in 16 bits with triangular dither: 98.1 - 4.8 - 6 = 87 dB; the wider kinds leave 130.
            assert snr_db(got, true) > (86.0 if kind is SampleFormat.PCM16 else 130.0)
    for track in (0, 2):
        file, channel = (track, 0) if mono else (0, track)
        np.testing.assert_array_equal(raw_track(outputs[file], channel), raw_track(scene.files[file], channel))


def _uid(reader: wavinfo.WavInfoReader) -> str:
    return str(etree.fromstring(reader.ixml.source.strip(b"\0")).findtext("FILE_UID"))


@pytest.mark.source("wavinfo 4.0", kind="library")
def test_says_where_it_comes_from(tmp_path: Path) -> None:
    """An outside reader finds the parent's id and name, a new id, one more line of history and everything else kept."""
    scene = takes.scene(tmp_path, noise(3), [card(1200.25, 37.0, 1)])
    plan = plan_of(scene, tmp_path / "out")
    carry_out(plan.takes[0])
    before = wavinfo.WavInfoReader(str(scene.files[0]))
    after = wavinfo.WavInfoReader(str(tmp_path / "out" / scene.files[0].name))
    assert after.bext.time_reference == before.bext.time_reference == takes.START
    lines = after.bext.coding_history.strip("\0").split("\r\n")
    assert lines[0] == "A=PCM,F=48000,W=24,M=multi,T=recorder"
    assert lines[1] == "A=PCM,F=48000,W=24,M=multi,T=mirror track 2 from card"
    assert _uid(after) == plan.takes[0].file_uid(0) != _uid(before)
    assert [t.name for t in after.ixml.track_list] == [t.name for t in before.ixml.track_list]
    assert (after.ixml.scene, after.ixml.take) == ("12A", "3")
    info = read_info(tmp_path / "out" / scene.files[0].name)
    assert info.ixml is not None
    assert info.ixml.get("HISTORY/PARENT_UID") == takes.PARENT_UID + "0"
    assert info.ixml.get("HISTORY/PARENT_FILENAME") == scene.files[0].name
    assert info.cues[0].frame == 1000
    assert info.info_list["ICMT"] == "car deck"
    assert any(chunk.id == "nbfx" for chunk in info.chunks)
    assert info.bext is not None
    assert info.bext.loudness_value_lufs is None
    assert info.disagreements == ()


def test_without_a_usable_card_the_audio_is_the_same(tmp_path: Path) -> None:
    cards = [card(1200.0, 0.0, 1, outcome=Outcome.OTHER_MIC), card(10.0**9, 0.0, 2)]
    scene = takes.scene(tmp_path, noise(3), cards)
    outcome = carry_out(plan_of(scene, tmp_path / "out").takes[0])
    with open_wave(scene.files[0]) as a, open_wave(outcome.outputs[0]) as b:
        assert a.read_bytes(0, FRAMES) == b.read_bytes(0, FRAMES)
    assert [track.action for track in outcome.tracks] == [Action.KEEP] * 3
    assert "hears another microphone" in outcome.tracks[1].not_possible[0]
    assert outcome.tracks[2].outcome is Outcome.NOT_COVERED


def test_where_the_card_ends_the_radio_stays(tmp_path: Path) -> None:
    """The card covers 10 000 to 99 999: outside every byte is the recorder's, at the seams there is no step."""
    radio = np.repeat(tone(997.0, np.arange(float(FRAMES)) - 10_000)[:, None], 2, axis=1)
    scene = takes.scene(tmp_path, radio, [card(-10_000.0, 0.0, 1, length=90_000)])
    plan = plan_of(scene, tmp_path / "out")
    outcome = carry_out(plan.takes[0])
    output = Path(outcome.outputs[0])
    before, after = raw_track(scene.files[0], 1), raw_track(output, 1)
    np.testing.assert_array_equal(after[:10_000], before[:10_000])
    np.testing.assert_array_equal(after[100_000:], before[100_000:])
    fade = plan.takes[0].fade_samples
    with open_wave(output) as reader:
        got = reader.read_channel(1, 0, FRAMES).astype(np.float64)
    # Both sound alike here, so a correct cross-fade is not heard: 24-bit dither and the filter at the edge remain.
    assert snr_db(got[10_000 + 64 : 100_000 - 64], radio[10_000 + 64 : 100_000 - 64, 1]) > 100.0
    assert np.max(np.abs(np.diff(got))) < 1.05 * 2 * np.pi * 997.0 / RATE * 0.5
    segments = outcome.tracks[1].segments
    assert [(s.start_sample, s.stop_sample, str(s.origin)) for s in segments] == [
        (0, 10_000, "recorder"),
        (10_000, 100_000, "card"),
        (100_000, FRAMES, "recorder"),
    ]
    assert segments[1].fade_in_samples == segments[1].fade_out_samples == fade
    assert "does not cover 0.000 s to 0.208 s, 2.083 s to 3.125 s" in outcome.tracks[1].not_possible[0]


@pytest.mark.parametrize("moved", [0.0, 144.0])
def test_runs_on_from_one_file_of_a_card_to_the_next(tmp_path: Path, moved: float) -> None:
    """A card that began a new file in the middle of the take: nothing of the radio, and no click, at the seam."""
    whole = tone(997.0, np.arange(FRAMES + 4000.0))
    scene = takes.scene(tmp_path, noise(1), [card(1200.25, 20.0, 0)])
    first = takes.write_card(tmp_path / "cards" / "a.wav", whole[:80_000])
    second = takes.write_card(tmp_path / "cards" / "b.wav", whole[80_000:])
    clock = ClockMap.straight(1200.25, 20.0, FRAMES)
    seam = int(np.ceil(clock.frame_of(79_999.5)))
    pieces = (
        CardPiece(str(first), 0, 0, seam, clock),
        CardPiece(str(second), 0, seam, FRAMES, clock.shifted(-80_000.0)),
    )
    # Placed at the source, a card lies some milliseconds later than where its pieces were cut.
    pieces = tuple(replace(piece, map=piece.map.shifted(moved)) for piece in pieces)
    object.__setattr__(scene.alignments[0], "pieces", pieces)
    outcome = carry_out(plan_of(scene, tmp_path / "out").takes[0])
    with open_wave(outcome.outputs[0]) as reader:
        got = reader.read_channel(0, 0, FRAMES).astype(np.float64)
    assert snr_db(got, tone(997.0, clock.shifted(moved).at(np.arange(FRAMES)))) > 130.0


def test_gain_and_polarity(tmp_path: Path) -> None:
    scene = takes.scene(tmp_path, noise(1), [card(0.0, 0.0, 0, fields={"polarity": -1})])
    plan = plan_of(scene, tmp_path / "out")
    track = plan.takes[0].tracks[0].model_copy(update={"gain_db": 20 * np.log10(0.5)})
    carry_out(plan.takes[0].model_copy(update={"tracks": (track,)}))
    with open_wave(tmp_path / "out" / scene.files[0].name) as reader:
        got = reader.read_channel(0, 0, FRAMES).astype(np.float64)
    assert snr_db(got, -0.5 * tone(997.0, np.arange(float(FRAMES)))) > 120.0


def test_what_goes_over_full_scale_is_counted(tmp_path: Path) -> None:
    """A floating point card may hold more than the recorder's whole numbers can."""
    loud = takes.Card(4.0 * tone(997.0, np.arange(FRAMES + 10.0)), 0.0, 0.0, 0)
    outcome = carry_out(plan_of(takes.scene(tmp_path, noise(1), [loud]), tmp_path / "out").takes[0])
    assert outcome.tracks[0].clipped_samples == pytest.approx(FRAMES * 2 / 3, rel=0.01)
    assert "lower the gain" in outcome.tracks[0].not_possible[0]


def test_a_plan_survives_its_document(tmp_path: Path) -> None:
    scene = takes.scene(tmp_path, noise(2), [card(-700.25, 37.0, 1)])
    plan = plan_of(scene, tmp_path / "out")
    again = ConformPlan.from_json(plan.to_json())
    assert again == plan
    assert again.takes[0].digest() == plan.takes[0].digest()
    broken = plan.to_json().replace('"replace"', '"improve"').replace('"polarity": 1', '"polarity": 7')
    with pytest.raises(InputError, match="has 3 mistakes") as caught:
        ConformPlan.from_json(broken, "plan.json")
    assert "takes 1, tracks 2, action: cannot be 'improve'; write" in str(caught.value)


def test_a_second_run_leaves_finished_files_alone(tmp_path: Path) -> None:
    scene = takes.scene(tmp_path, noise(2), [card(1200.25, 37.0, 1)], mono=True)
    take = plan_of(scene, tmp_path / "out").takes[0]
    first = carry_out(take)
    stamps = [Path(each).stat().st_mtime_ns for each in first.outputs]
    second = carry_out(take)
    assert [Path(each).stat().st_mtime_ns for each in first.outputs] == stamps
    assert second.resumed == first.outputs
    assert second.model_copy(update={"resumed": ()}) == first
    # One of the two files was lost: only that one is made again, the same to the byte.
    content = Path(first.outputs[1]).read_bytes()
    Path(first.outputs[1]).unlink()
    third = carry_out(take)
    assert third.resumed == first.outputs[:1]
    assert Path(first.outputs[1]).read_bytes() == content
    assert third.tracks == first.tracks


def test_never_replaces_what_it_did_not_make(tmp_path: Path) -> None:
    scene = takes.scene(tmp_path, noise(2), [card(1200.25, 37.0, 1)])
    take = plan_of(scene, tmp_path / "out").takes[0]
    output = Path(take.members[0].output)
    output.parent.mkdir()
    output.write_bytes(b"somebody's")
    with pytest.raises(StorageError, match="never overwritten"):
        carry_out(take)
    assert output.read_bytes() == b"somebody's"
    output.unlink()
    carry_out(take)
    changed = take.tracks[1].model_copy(update={"gain_db": -3.0})
    with pytest.raises(StorageError, match="never overwritten"):
        carry_out(take.model_copy(update={"tracks": (take.tracks[0], changed)}))


@pytest.mark.parametrize("mono", [False, True])
def test_stopped_in_the_middle_leaves_nothing_half_done(tmp_path: Path, mono: bool) -> None:
    scene = takes.scene(tmp_path, noise(2), [card(1200.25, 37.0, 1)], mono=mono)
    take = plan_of(scene, tmp_path / "out").takes[0]

    def listen(event: Event) -> None:
        if event.done >= 65_536:
            progress.stop()

    progress = Progress(listen)
    with pytest.raises(Halted):
        carry_out(take, progress)
    left = [path.name for path in (tmp_path / "out").iterdir() if path.name != RECORDS]
    assert all(name in {file.name for file in scene.files} for name in left)
    assert len(left) < len(take.members)
    outcome = carry_out(take)
    with open_set(list(outcome.outputs)) as reader:
        true = tone(997.0, ClockMap.straight(1200.25, 37.0, FRAMES).at(np.arange(FRAMES)))
        assert snr_db(reader.read_channel(1, 0, FRAMES).astype(np.float64), true) > 120.0


def test_a_record_without_its_file_is_not_believed(tmp_path: Path) -> None:
    """Killed between the record and the name: the file is made; a foreign file under the name is refused."""
    scene = takes.scene(tmp_path, noise(1), [card(0.0, 0.0, 0)])
    take = plan_of(scene, tmp_path / "out").takes[0]
    carry_out(take)
    output = Path(take.members[0].output)
    content = output.read_bytes()
    output.unlink()
    assert carry_out(take).resumed == ()
    assert output.read_bytes() == content
    output.write_bytes(scene.files[0].read_bytes())
    with pytest.raises(StorageError, match="never overwritten"):
        carry_out(take)


def test_a_changed_source_is_refused(tmp_path: Path) -> None:
    scene = takes.scene(tmp_path, noise(1), [card(0.0, 0.0, 0)])
    take = plan_of(scene, tmp_path / "out").takes[0]
    with open(take.tracks[0].pieces[0].file.path, "ab") as file:
        file.write(b"more")
    with pytest.raises(InputError, match="has changed since the plan was made"):
        carry_out(take)
    assert not (tmp_path / "out").exists()


def test_one_thread_or_many_make_the_same_file(tmp_path: Path) -> None:
    scene = takes.scene(tmp_path, noise(3), [card(1200.25, 37.0, 1), card(3.5, 5.0, 2)])
    one = carry_out(plan_of(scene, tmp_path / "one").takes[0], threads=1)
    many = carry_out(plan_of(scene, tmp_path / "many").takes[0], threads=4)
    assert Path(one.outputs[0]).read_bytes() == Path(many.outputs[0]).read_bytes()


@pytest.mark.parametrize("mode", [Mode.MIRROR, Mode.MEND])
def test_memory_does_not_grow_with_length(tmp_path: Path, mode: Mode) -> None:
    """Four times the length, the same peak: 20 % is what one more span list and block ends may cost."""

    def peak(copies: int) -> int:
        folder = tmp_path / f"{copies}"
        radio = np.tile(0.1 * noise(2), (copies, 1))
        sound = np.concatenate([radio[:, 1], np.zeros(1000)])
        scene = takes.scene(folder, radio, [takes.Card(sound, 0.25, 5.0, 1)])
        del radio, sound
        plan = plan_of(scene, folder / "out", mode)
        tracemalloc.start()
        carry_out(plan.takes[0], threads=1)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    carry_out(plan_of(takes.scene(tmp_path, noise(1), [card(0.0, 0.0, 0)]), tmp_path / "warm", mode).takes[0])
    # Ten times 3 s is about one of the chunks that damage is judged in; from there on nothing may grow.
    assert peak(44) < 1.2 * peak(11) + 1_000_000


def test_two_takes_may_not_write_one_file(tmp_path: Path) -> None:
    scene = takes.scene(tmp_path, noise(1), [])
    with pytest.raises(ValueError, match="more than once"):
        make_plan([], {"a": scene.files, "b": scene.files}, "mirror", tmp_path / "out")
