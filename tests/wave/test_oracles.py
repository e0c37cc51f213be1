"""Headers that we write, read by programs that nobody here wrote; and headers of theirs read by us."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from wavinfo import WavInfoReader

from rollsound.timecode import Rate
from rollsound.wave import (
    AudioFormat,
    Bext,
    Cue,
    FileSet,
    IXml,
    IXmlTrack,
    SampleFormat,
    WaveWriter,
    read_info,
    recover,
)

FORM = AudioFormat(48000, 4, SampleFormat.PCM24)
START = (1 << 32) + 12_345
NAMES = ("Boom", "Oda", "Idris", "Mix L")


def _bext(version: int = 2) -> Bext:
    loud = (
        {"loudness_value_lufs": -23.1, "loudness_range_lu": 7.2, "loudness_true_peak_dbtp": -2.3}
        if version == 2
        else {}
    )
    return Bext(
        description="sSCENE=12A\r\nsTAKE=3\r\n",
        originator="Corpus",
        originator_reference="NOSKA0001",
        origination_date="2026-02-03",
        origination_time="09:30:00",
        time_reference=START,
        version=version,
        umid=bytes(range(1, 33)) if version else b"",
        coding_history="A=PCM,F=48000,W=24,M=multi,T=test\r\n",
        **loud,  # type: ignore[arg-type]
    )


def _ixml() -> IXml:
    return IXml.build(
        project="Northbound Ferry",
        scene="12A",
        take="3",
        sound_roll="R04",
        note="gulls",
        circled=True,
        file_uid="UID0001",
        rate=Rate(24000, 1001, 24),
        audio=FORM,
        start_samples=START,
        tracks=[IXmlTrack(2 * n, n, name) for n, name in enumerate(NAMES, 1)],
        file_set=FileSet(1, "FAM01", "12A-3"),
    )


@pytest.fixture(scope="module", params=["RIFF", "RF64"])
def written(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("oracle") / f"{request.param}.wav"
    most = 0 if request.param == "RF64" else 0xFFFFFFFF
    cues = [Cue(100, "slate")]
    texts = {"INAM": "12A-3", "ICMT": "gulls"}
    with WaveWriter(
        path, FORM, bext=_bext(), ixml=_ixml(), cues=cues, info_list=texts, largest_riff_bytes=most
    ) as writer:
        writer.write(np.full((48_001, 4), 0.25, np.float32))
    return path


def _run(*command: str) -> str:
    if shutil.which(command[0]) is None:
        pytest.skip(f"{command[0]} is not on this machine")
    return subprocess.run(command, check=True, capture_output=True, text=True, timeout=60).stdout


@pytest.mark.source("wavinfo 4.0 reads every field of bext", kind="library")
def test_wavinfo_reads_bext(written: Path) -> None:
    seen = WavInfoReader(str(written))
    b = seen.bext
    assert (b.description, b.originator, b.originator_ref) == ("sSCENE=12A\r\nsTAKE=3\r\n", "Corpus", "NOSKA0001")
    assert (b.originator_date, b.originator_time) == ("2026-02-03", "09:30:00")
    assert (b.time_reference, b.version) == (START, 2)
    assert b.coding_history == "A=PCM,F=48000,W=24,M=multi,T=test\r\n"
    assert bytes(b.umid)[:32] == bytes(range(1, 33))
    assert (b.loudness_value, b.loudness_range, b.max_true_peak) == pytest.approx((-23.1, 7.2, -2.3), abs=1e-9)
    # wavinfo shows the unset value 0x7FFF as the number it would be.
    assert (b.max_momentary_loudness, b.max_shortterm_loudness) == (327.67, 327.67)
    assert (seen.fmt.channel_count, seen.fmt.sample_rate, seen.fmt.bits_per_sample) == (4, 48000, 24)
    assert seen.data.frame_count == 48_001


@pytest.mark.source("wavinfo 4.0 reads iXML and INFO", kind="library")
def test_wavinfo_reads_ixml(written: Path) -> None:
    seen = WavInfoReader(str(written))
    x = seen.ixml
    assert (x.project, x.scene, x.take, x.tape, x.family_uid) == ("Northbound Ferry", "12A", "3", "R04", "FAM01")
    assert [(t.channel_index, t.name) for t in x.track_list] == [(str(2 * n), name) for n, name in enumerate(NAMES, 1)]
    assert (seen.info.title, seen.info.comment) == ("12A-3", "gulls")
    assert [(cue.position, cue.sample_offset) for cue in seen.cues.cues] == [(100, 100)]


@pytest.mark.source("sndfile-info of libsndfile 1.2 prints bext with loudness", kind="library")
def test_sndfile_info_reads_bext(written: Path) -> None:
    text = _run("sndfile-info", "--broadcast", str(written))
    for wanted in ("Corpus", "NOSKA0001", "2026-02-03", "09:30:00", "-23.1", "7.2", "-2.3", f"{START:x}"):
        assert wanted in text


@pytest.mark.source("exiftool 12 reads iXML element by element", kind="library")
def test_exiftool_reads_every_element(written: Path) -> None:
    [seen] = json.loads(_run("exiftool", "-json", "-a", "-struct", str(written)))
    wanted = {
        "Description": "sSCENE=12A\r\nsTAKE=3\r\n",
        "Originator": "Corpus",
        "DateTimeOriginal": "2026:02:03 09:30:00",
        "TimeReference": START,
        "BWFVersion": 2,
        "BWF_UMID": bytes(range(1, 33)).hex().upper(),
        "CodingHistory": "A=PCM,F=48000,W=24,M=multi,T=test\r\n",
        "NumChannels": 4,
        "BitsPerSample": 24,
    }
    assert {key: seen[key] for key in wanted} == wanted
    x = seen["Bwfxml"]
    texts = {
        "Project": "Northbound Ferry",
        "Scene": "12A",
        "Take": 3,
        "Tape": "R04",
        "Note": "gulls",
        "FileUid": "UID0001",
    }
    assert {key: x[key] for key in texts} == texts
    assert (x["Circled"], x["WildTrack"], x["TakeType"]) == (True, False, "DEFAULT")
    assert x["FileSet"] == {"FamilyName": "12A-3", "FamilyUid": "FAM01", "TotalFiles": 1}
    speed = x["Speed"]
    assert speed["TimecodeRate"] == pytest.approx(24000 / 1001, abs=1e-9)  # exiftool prints fractions as decimals
    assert speed["TimecodeFlag"] == "NDF"
    assert (speed["TimestampSamplesSinceMidnightHi"], speed["TimestampSamplesSinceMidnightLo"]) == (1, 12345)
    assert (speed["FileSampleRate"], speed["AudioBitDepth"], speed["TimestampSampleRate"]) == (48000, 24, 48000)
    assert x["TrackList"]["TrackCount"] == 4


@pytest.mark.source("ffprobe reads bext and the audio's length", kind="library")
def test_ffprobe_reads_bext(written: Path) -> None:
    seen = json.loads(_run("ffprobe", "-v", "error", "-show_format", "-show_streams", "-of", "json", str(written)))
    tags = {key.casefold(): value for key, value in seen["format"]["tags"].items()}
    assert tags["time_reference"] == str(START)
    assert tags["originator_reference"] == "NOSKA0001"
    assert tags["date"] == "2026-02-03"
    assert tags["coding_history"].startswith("A=PCM,F=48000")
    stream = seen["streams"][0]
    assert (stream["codec_name"], stream["channels"], stream["duration_ts"]) == ("pcm_s24le", 4, 48_001)


@pytest.mark.source("mediainfo 23 leaves unset loudness out and reads the delay", kind="library")
def test_mediainfo_reads_time_and_length(written: Path) -> None:
    seen = json.loads(_run("mediainfo", "--Output=JSON", str(written)))
    tracks = {track["@type"]: track for track in seen["media"]["track"]}
    audio = tracks["Audio"]
    assert (audio["Channels"], audio["BitDepth"], audio["SamplingRate"]) == ("4", "24", "48000")
    assert int(audio["SamplingCount"]) == 48_001
    assert float(audio["Delay"]) == pytest.approx(START / 48000, abs=0.001)


@pytest.mark.source("FFmpeg writes bext; read by us", kind="library")
@pytest.mark.parametrize("rf64", ["never", "always"])
def test_a_header_of_ffmpeg_is_read(rf64: str, tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    _run(
        *("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "sine=frequency=440:sample_rate=48000:duration=0.5"),
        *("-c:a", "pcm_s24le", "-write_bext", "1", "-rf64", rf64),
        *("-metadata", "description=sSCENE=7", "-metadata", "time_reference=8589934599"),
        *("-metadata", "originator=Corpus", "-metadata", "title=Ferry", str(path)),
    )
    info = read_info(path)
    assert (info.frames, info.format.channels, info.scene) == (24_000, 1, "7")
    assert info.start_samples == 8_589_934_599
    assert info.bext is not None
    assert info.bext.originator == "Corpus"
    assert info.info_list["INAM"] == "Ferry"
    assert not info.assumptions


@pytest.mark.source("wavinfo 4.0 reads a recovered copy that it cannot read before", kind="library")
def test_wavinfo_reads_what_was_recovered(tmp_path: Path) -> None:
    broken = Path(__file__).parent.parent / "corpus" / "size-zero-ixml-after.wav"
    with pytest.raises(Exception):  # noqa: B017
        WavInfoReader(str(broken)).data.frame_count  # noqa: B018
    recover(broken, tmp_path / "whole.wav")
    seen = WavInfoReader(str(tmp_path / "whole.wav"))
    assert (seen.data.frame_count, seen.ixml.scene) == (1001, "12A")
