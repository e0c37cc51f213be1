"""How rough sound, text and left-over data are, read as 24-bit samples: the table behind the two limits in
``rollsound.wave.extent``.

Rough means: the median step between neighbouring samples of a channel. "Beside" is the smoothest reading that starts
one or two bytes off. Run: ``python -m design.wave_roughness``.
"""

from __future__ import annotations

import lzma
import tempfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rollsound.wave.disk import ByteSource
from rollsound.wave.extent import roughness
from rollsound.wave.model import AudioFormat, SampleFormat

FORM = AudioFormat(48000, 4, SampleFormat.PCM24)
FRAMES = 8192


def _pack(sound: NDArray[np.float64]) -> bytes:
    whole = np.rint(np.clip(sound, -1, 1 - 2**-23) * 2**23).astype("<i4")
    block = np.repeat(whole[:, None], 4, axis=1)
    return block.reshape(-1).view(np.uint8).reshape(-1, 4)[:, :3].tobytes()


def _speech_like(rng: np.random.Generator, peak: float) -> NDArray[np.float64]:
    """A pulse train through three resonances, with a little breath."""
    sound = np.zeros(FRAMES)
    sound[:: 48000 // 120] = 1.0
    sound += 0.01 * rng.standard_normal(FRAMES)
    for frequency, width in ((700, 130), (1220, 70), (2600, 160)):
        radius = np.exp(-np.pi * width / 48000)
        a1, a2 = -2 * radius * np.cos(2 * np.pi * frequency / 48000), radius**2
        out = np.zeros(FRAMES)
        for n in range(2, FRAMES):
            out[n] = sound[n] - a1 * out[n - 1] - a2 * out[n - 2]
        sound = out
    return sound / np.abs(sound).max() * peak


def materials() -> dict[str, bytes]:
    """What may follow the audio, by name."""
    rng = np.random.default_rng(4)
    n = np.arange(FRAMES)
    text = (Path(__file__).read_bytes() * 60)[: FRAMES * 12]
    return {
        "room tone at -60 dBFS": _pack(0.001 * rng.standard_normal(FRAMES)),
        "voice-like, peak -20 dBFS": _pack(_speech_like(rng, 0.1)),
        "voice-like, peak 0 dBFS": _pack(_speech_like(rng, 0.999)),
        "sine 1 kHz at 0 dBFS": _pack(0.999 * np.sin(2 * np.pi * 1000 * n / 48000)),
        "sine 5 kHz at 0 dBFS": _pack(0.999 * np.sin(2 * np.pi * 5000 * n / 48000)),
        "white noise at -12 dBFS rms": _pack(0.25 * rng.standard_normal(FRAMES)),
        "program text": text,
        "XML": (b"<TRACK><NAME>Boom</NAME><CHANNEL_INDEX>1</CHANNEL_INDEX></TRACK>\n" * 3000)[: FRAMES * 12],
        "compressed data": lzma.compress(rng.bytes(FRAMES * 12))[: FRAMES * 12],
    }


def main() -> None:
    """Print the table."""
    print(f"{'material':30} {'step':>8} {'beside':>8} {'ratio':>6}")
    with tempfile.TemporaryDirectory() as name:
        for what, raw in materials().items():
            path = Path(name) / "a"
            path.write_bytes(raw)
            with ByteSource(path) as source:
                own = roughness(source, 0, FORM) or 0.0
                beside = min(roughness(source, shift, FORM) or 9.0 for shift in (1, 2))
            print(f"{what:30} {own:8.4f} {beside:8.4f} {beside / max(own, 1e-9):6.2f}")


if __name__ == "__main__":
    main()
