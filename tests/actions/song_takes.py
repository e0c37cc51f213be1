"""Takes of a song with the playback's time code on a track."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from rollsound.timecode import Rate, Timecode, encode_ltc
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter

HZ = 48_000
RATE = Rate.parse("25")
PLAN = """\
show: {title: Northbound Ferry, frame_rate: "25"}
schedule: {days: [{id: day-1, number: 1}, {id: day-2, number: 2}]}
songs:
  songs:
    - {id: ferry, title: Ferry, start_timecode: "01:00:00:00", tempo_map: ferry.csv, scenes: ["36"]}
media:
  - {id: main, day: day-1, recorder: recorder}
"""


def wav(path: Path, tracks: dict[str, np.ndarray], *, scene: str = "36", stamp: int = 36_000 * HZ) -> Path:
    """A file of some tracks, of a scene, at a time of day."""
    path.parent.mkdir(parents=True, exist_ok=True)
    size = max(sound.size for sound in tracks.values())
    block = np.zeros((size, len(tracks)), np.float32)
    for n, sound in enumerate(tracks.values()):
        block[: sound.size, n] = sound
    ixml = IXml.build(scene=scene, take="1", sound_roll="R1", rate=RATE, tracks=list(tracks))
    form = AudioFormat(HZ, len(tracks), SampleFormat.PCM24)
    with WaveWriter(path, form, bext=Bext(time_reference=stamp), ixml=ixml) as writer:
        writer.write(block)
    return path


def label(text: str, seconds: float) -> np.ndarray:
    """Time code as sound."""
    return encode_ltc(Timecode.parse(text, RATE), round(25 * seconds), HZ)
