"""A built day: its files, its truth, and that its truth is heard in its sound."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
import soundfile
import wavinfo
from listening import F32, RATE, read_card, read_take, worst_median_lag

from rollsound.demo import DAY_FOUR, Block, Card, Site, Take, Truth, build_day
from rollsound.demo.scenario import PEOPLE
from rollsound.errors import Halted, InputError
from rollsound.progress import Event, Progress
from rollsound.wave import read_info


@pytest.mark.source("phase correlation with numpy's transform, scipy's spline and filters", kind="library")
def test_the_truth_is_heard_in_the_short_day(short_day) -> None:  # type: ignore[no-untyped-def]
    found = worst_median_lag(short_day.out, short_day.truth)
    assert len(found) == 6
    # windows are read to 1/16 sample, and a compander and noise move single ones by a little more
    assert max(abs(lag) for lag in found.values()) < 0.2, found


def test_a_truth_that_is_off_is_noticed(short_day) -> None:  # type: ignore[no-untyped-def]
    truth: Truth = short_day.truth
    bad = [
        take.model_copy(
            update={
                "tracks": tuple(
                    track.model_copy(
                        update={
                            "offset_samples": track.offset_samples + 1.0 if track.offset_samples else None,
                            "knots": tuple((n, p + 1.0) for n, p in track.knots),
                        }
                    )
                    for track in take.tracks
                )
            }
        )
        for take in truth.takes
    ]
    found = worst_median_lag(short_day.out, truth.model_copy(update={"takes": tuple(bad)}), windows=3)
    assert min(abs(lag) for lag in found.values()) > 0.8


def test_a_split_card_is_two_pieces_that_meet(short_day) -> None:  # type: ignore[no-untyped-def]
    first, second = short_day.truth.track("T1", "Bram").pieces
    assert first.stop == second.start
    assert {first.card_file, second.card_file} == {"cards/C1/C1_01.wav", "cards/C1/C1_02.wav"}
    joined = np.concatenate([read_card(short_day.out, piece.card_file) for piece in (first, second)])
    seam = read_card(short_day.out, first.card_file).size
    steps = np.abs(np.diff(joined[seam - 2000 : seam + 2000], 3))
    assert steps[1990:2005].max() < 3 * np.quantile(steps, 0.999)


def test_damage_is_where_the_truth_says(short_day) -> None:  # type: ignore[no-untyped-def]
    truth: Truth = short_day.truth
    audio = read_take(short_day.out, truth.take("T1"))

    def span(name: str, kind: str) -> tuple[F32, int, int]:
        track = truth.track("T1", name)
        found = next(s for s in track.spans if s.kind == kind)
        return audio[:, track.index], found.start_sample, found.length_samples

    sound, at, length = span("Bram", "mute")
    assert not sound[at : at + length].any()
    assert np.count_nonzero(sound[at - 100 : at]) > 90
    sound, at, length = span("Tomasz", "click")
    assert np.abs(np.diff(sound[at - 2 : at + length + 2])).max() > 0.2
    sound, at, length = span("Tomasz", "radio-hit")
    assert sound[at : at + length].std() > 10.0 ** (-16 / 20)
    sound, at, length = span("Boom 1", "clip")
    top = 1.0 - 2.0**-23
    assert np.abs(sound[at]) >= top - 2.0**-23
    assert np.abs(np.delete(sound, np.s_[at : at + length])).max() < top
    dead = read_take(short_day.out, truth.take("T2"))[:, truth.track("T2", "Tomasz").index]
    assert 20 * np.log10(np.abs(dead).max()) < -80


def test_hum_is_there_and_only_there(short_day) -> None:  # type: ignore[no-untyped-def]
    audio = read_take(short_day.out, short_day.truth.take("T2"))

    def line_db(track: str) -> float:
        x = audio[:, short_day.truth.track("T2", track).index]
        f, power = scipy.signal.welch(x, RATE, nperseg=1 << 16)
        at = int(np.argmin(np.abs(f - 50.0)))
        around = np.r_[power[at - 14 : at - 5], power[at + 6 : at + 15]]
        return float(10 * np.log10(power[at - 2 : at + 3].max() / np.median(around)))

    assert line_db("Boom 2") > 20.0
    assert line_db("Boom 1") < 8.0


def test_files_that_lost_power_are_as_such_files_are(short_day) -> None:  # type: ignore[no-untyped-def]
    for path, kind in (
        (short_day.out / "recorder" / "T2.wav", "recorder"),
        (short_day.out / "cards/C5/C5_01.wav", "card"),
    ):
        info = read_info(path)
        assert info.assumptions, kind
        assert path.read_bytes()[4:8] == b"\0\0\0\0"
    take = short_day.truth.take("T2")
    assert not take.finalised
    assert take.frames == read_info(short_day.out / "recorder" / "T2.wav").frames < 480_000


@pytest.mark.source("wavinfo and soundfile", kind="library")
def test_others_read_the_files(short_day) -> None:  # type: ignore[no-untyped-def]
    path = short_day.out / "recorder" / "T1.wav"
    take = short_day.truth.take("T1")
    shown = soundfile.info(path)
    assert (shown.channels, shown.samplerate, shown.frames, shown.subtype) == (7, RATE, take.frames, "PCM_24")
    told = wavinfo.WavInfoReader(str(path))
    assert told.bext.time_reference == take.start_samples == ((9 * 60 + 10) * 60 + 3) * RATE + 336
    assert (told.ixml.project, told.ixml.scene, told.ixml.take, told.ixml.tape) == (
        "Northbound Ferry",
        "31",
        "1",
        "NF-T",
    )
    assert [track.name for track in told.ixml.track_list] == [track.name for track in take.tracks]
    card = soundfile.info(short_day.out / "cards/C3/C3_01.wav")
    assert (card.channels, card.subtype) == (1, "FLOAT")


def test_everything_says_it_is_synthesised(short_day) -> None:  # type: ignore[no-untyped-def]
    said = [read_info(path) for path in short_day.out.rglob("*.wav")]
    assert len(said) == 9
    for info in said:
        text = " ".join([info.note, info.info_list.get("ICMT", ""), info.bext.coding_history if info.bext else ""])
        assert "ynthesised" in text, info.path
    assert "nobody was recorded" in (short_day.out / "README.txt").read_text(encoding="utf-8")
    assert "nobody was recorded" in Truth.model_validate_json((short_day.out / "truth.json").read_text()).notice


def test_a_card_without_time_code_has_none(short_day) -> None:  # type: ignore[no-untyped-def]
    assert not read_info(short_day.out / "cards/C3/C3_01.wav").has_timecode
    stamped = read_info(short_day.out / "cards/C1/C1_01.wav")
    day = short_day.truth.day_starts_at_samples
    assert stamped.start_samples == day + round((1.1 + 0.004) * RATE)


def _hashes(out: Path) -> dict[str, str]:
    return {
        path.relative_to(out).as_posix(): hashlib.sha1(path.read_bytes()).hexdigest()
        for path in sorted(out.rglob("*"))
        if path.is_file()
    }


TINY = replace(
    DAY_FOUR,
    blocks=(Block(Site.DECK, 0.0, 9.0, ("Bram", "Runa"), ("Boom 1",)),),
    takes=(Take("A", Site.DECK, "31", "1", "1", 1.5, 6.5),),
    cards=(Card("C1", "Bram", ((0.5, 8.9),), 5.0, sheet_track="Bram"),),
    damages=(),
)


def test_the_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    for name, seed in (("a", 4), ("b", 4), ("c", 5)):
        build_day(tmp_path / name, seed=seed, day=TINY)
    a, b, c = (_hashes(tmp_path / name) for name in "abc")
    assert a == b
    assert a.keys() == c.keys()
    assert a["recorder/A.wav"] != c["recorder/A.wav"]
    assert a["takes.csv"] == c["takes.csv"]


def test_a_stopped_build_leaves_nothing(tmp_path: Path) -> None:
    progress = Progress(lambda event: progress.stop() if event.done >= 1 else None)
    with pytest.raises(Halted):
        build_day(tmp_path / "day", day=TINY, progress=progress)
    assert list((tmp_path / "day").iterdir()) == []


def test_a_day_is_never_overwritten(tmp_path: Path) -> None:
    (tmp_path / "takes.csv").write_text("mine")
    with pytest.raises(InputError, match="never overwritten"):
        build_day(tmp_path, day=TINY)
    assert [path.name for path in tmp_path.iterdir()] == ["takes.csv"]


def test_progress_is_told_in_order(tmp_path: Path) -> None:
    heard: list[Event] = []
    build_day(tmp_path / "day", day=TINY, progress=Progress(heard.append))
    assert [event.done for event in heard] == list(range(3))
    assert heard[-1].total == 3


def test_day_four_is_a_day_of_this_film() -> None:
    names = [take.file for take in DAY_FOUR.takes]
    assert len(set(names)) == len(names) == 9
    assert {take.kind for take in DAY_FOUR.takes} == {"take", "false start", "wild track", "room tone"}
    worn = {name for block in DAY_FOUR.blocks for name in block.radios}
    assert len(worn) == 14
    assert {person.name for person in PEOPLE} <= worn
    for before, after in zip(DAY_FOUR.blocks, DAY_FOUR.blocks[1:], strict=False):
        assert before.end_s == after.start_s
    for take in DAY_FOUR.takes:
        assert 15 <= take.seconds <= 60
        assert 13 <= len(DAY_FOUR.tracks_of(take)) <= 16
    for damage in DAY_FOUR.damages:
        take = next(take for take in DAY_FOUR.takes if take.file == damage.file)
        assert damage.track in DAY_FOUR.tracks_of(take)
        assert damage.start_s + damage.length_s < take.seconds
    for card in DAY_FOUR.cards:
        assert 2.0 <= abs(card.rate_ppm) <= 40.0
        assert sum(end - begin for begin, end in card.spans) < 600
