"""Make the small broken files of this folder, each named for its defect. Headers are packed by hand, not by rollsound.

Run ``python tests/corpus/generate.py`` to write them anew; a test holds them equal to what this makes.
"""

from __future__ import annotations

import math
import struct
from pathlib import Path

CHANNELS, BITS, RATE, FRAMES = 3, 24, 48000, 1001
FRAME = CHANNELS * BITS // 8
IXML_TEXT = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<BWFXML>\n\t<IXML_VERSION>2.10</IXML_VERSION>\n'
    "\t<PROJECT>Northbound Ferry</PROJECT>\n\t<SCENE>12A</SCENE>\n\t<TAKE>3</TAKE>\n"
    "\t<TRACK_LIST>\n\t\t<TRACK_COUNT>3</TRACK_COUNT>\n"
    "\t\t<TRACK><CHANNEL_INDEX>1</CHANNEL_INDEX><INTERLEAVE_INDEX>1</INTERLEAVE_INDEX><NAME>Boom</NAME></TRACK>\n"
    "\t\t<TRACK><CHANNEL_INDEX>4</CHANNEL_INDEX><INTERLEAVE_INDEX>2</INTERLEAVE_INDEX><NAME>Oda</NAME></TRACK>\n"
    "\t\t<TRACK><CHANNEL_INDEX>7</CHANNEL_INDEX><INTERLEAVE_INDEX>3</INTERLEAVE_INDEX><NAME>Idris</NAME></TRACK>\n"
    "\t</TRACK_LIST>\n</BWFXML>\n"
)
ONES = 0xFFFFFFFF


def audio(frames: int = FRAMES, channels: int = CHANNELS) -> bytes:
    """Three quiet tones, packed to 24 bits; never zero in the first or last frame."""
    out = bytearray()
    for n in range(frames):
        for c in range(channels):
            value = int(900_000 * math.sin(0.02 * (c + 1) * n + 0.5 + c)) | 1
            out += value.to_bytes(3, "little", signed=True)
    return bytes(out)


def noise(count: int) -> bytes:
    """Bytes without any order, always the same."""
    state, out = 12345, bytearray()
    for _ in range(count):
        state = (state * 6364136223846793005 + 1442695040888963407) & (1 << 64) - 1
        out.append(state >> 56)
    return bytes(out)


def chunk(name: bytes, payload: bytes, size: int | None = None, pad: bool = True) -> bytes:
    """A chunk, perhaps with a size field that lies or without its pad byte."""
    stated = len(payload) if size is None else size
    return name + struct.pack("<I", stated) + payload + b"\0" * (len(payload) % 2 if pad else 0)


def fmt(channels: int = CHANNELS, align: int = FRAME, bits: int = BITS) -> bytes:
    """A plain PCM format chunk."""
    return chunk(b"fmt ", struct.pack("<HHIIHH", 1, channels, RATE, RATE * align, align, bits))


def bext(size: int = 602, time: int = 1_728_000_000) -> bytes:
    """A version 1 broadcast extension with a time reference of 10 hours at 48 kHz."""
    payload = bytearray(602)
    payload[:20] = b"sSCENE=12A\r\nsTAKE=3\n"
    payload[256:270] = b"Corpus, Skarvi"
    payload[320:338] = b"2026-02-0309:30:00"
    struct.pack_into("<QH", payload, 338, time, 1)
    return chunk(b"bext", bytes(payload[:size]))


def ixml(text: bytes | None = None) -> bytes:
    """An iXML chunk of even length."""
    raw = IXML_TEXT.encode() if text is None else text
    return chunk(b"iXML", raw + b"\n" * (len(raw) % 2))


def riff(*chunks: bytes, size: int | None = None, name: bytes = b"RIFF") -> bytes:
    """The whole file."""
    body = b"".join(chunks)
    return name + struct.pack("<I", len(body) + 4 if size is None else size) + b"WAVE" + body


def rf64(data: bytes, *, riff_size: int | None = None, data_size: int = 9000, name: bytes = b"RF64") -> bytes:
    """A file with 64-bit sizes, right or wrong."""
    rest = bext() + fmt() + chunk(b"data", data, ONES)
    true = 4 + 36 + len(rest)
    sizes = struct.pack("<QQQI", true if riff_size is None else riff_size, data_size, data_size // FRAME, 0)
    return riff(chunk(b"ds64", sizes), rest, size=ONES, name=name)


def data(size: int | None = None, raw: bytes | None = None, pad: bool = True) -> bytes:
    """The audio chunk."""
    return chunk(b"data", audio() if raw is None else raw, size, pad)


def files() -> dict[str, bytes]:
    """Every file of the corpus by its name."""
    whole = riff(bext(), fmt(), data(), ixml())
    plain = riff(bext(), fmt(), data())
    half = 500 * FRAME
    return {
        "sound.wav": whole,
        "size-zero-everywhere.wav": riff(bext(), fmt(), data(0), size=0),
        "size-zero-riff-header-only.wav": riff(bext(), fmt(), data(0), size=40),
        "size-zero-ixml-after.wav": riff(bext(), fmt(), data(0), ixml(), size=0),
        "size-minus-one-everywhere.wav": riff(bext(), fmt(), data(ONES), size=ONES),
        "size-minus-one-ixml-after.wav": riff(bext(), fmt(), data(ONES), ixml(), size=ONES),
        "size-stale-quarter.wav": riff(bext(), fmt(), data(250 * FRAME), size=0),
        "size-stale-quarter-ixml-after.wav": riff(bext(), fmt(), data(250 * FRAME), ixml()),
        "cut-on-frame.wav": plain[: len(plain) - 1 - 251 * FRAME],
        "cut-mid-frame.wav": plain[: len(plain) - 1 - 251 * FRAME - 4],
        "first-512-zero.wav": bytes(512) + plain[512:],
        "first-4096-zero.wav": bytes(4096) + whole[4096:],
        "first-12-zero.wav": bytes(12) + whole[12:],
        "pad-missing.wav": riff(bext(), fmt(), data(pad=False), ixml()),
        "pad-after-even-chunk.wav": riff(bext() + b"\0", fmt(), data(), ixml()),
        "riff-size-zero.wav": riff(bext(), fmt(), data(), ixml(), size=0),
        "riff-size-without-ixml.wav": riff(bext(), fmt(), data(), ixml(), size=len(plain) - 8),
        "rf64-sound.wav": rf64(audio(1000)),
        "bw64-sound.wav": rf64(audio(1000), name=b"BW64"),
        "rf64-ds64-zero.wav": rf64(audio(1000), riff_size=0, data_size=0),
        "rf64-ds64-minus-one.wav": rf64(audio(1000), riff_size=(1 << 64) - 1, data_size=(1 << 64) - 1),
        "rf64-cut-half.wav": rf64(audio(1000))[: -500 * FRAME],
        "preallocated-zeros.wav": riff(bext(), fmt(), chunk(b"data", audio(1000) + bytes(9 * 1024), 0), size=0),
        "zeros-after-data.wav": riff(bext(), fmt(), data(raw=audio(1000))) + bytes(5000),
        "junk-after-data.wav": riff(bext(), fmt(), data(raw=audio(1000))) + noise(3000),
        "text-after-data.wav": riff(bext(), fmt(), data(raw=audio(1000))) + b"left over from another file, " * 100,
        "junk-after-ixml.wav": whole + noise(77),
        "data-chunk-missing.wav": riff(bext(), fmt()),
        "data-header-missing.wav": riff(bext(), fmt(), audio()),
        "data-header-zeroed.wav": riff(bext(), fmt(), bytes(8) + audio()),
        "cut-in-header.wav": plain[:650],
        "empty.wav": b"",
        "ixml-size-huge.wav": riff(bext(), fmt(), chunk(b"iXML", IXML_TEXT.encode(), 0x7FFFFFFF), data()),
        "block-align-wrong.wav": riff(bext(), fmt(align=12), data()),
        "channels-zero.wav": riff(bext(), fmt(channels=0), data()),
        "data-not-whole-frames.wav": riff(bext(), fmt(), data(raw=audio(1000) + b"\1\2\3\4")),
        "data-before-fmt.wav": riff(bext(), data(raw=audio(1000)), fmt()),
        "bext-short.wav": riff(bext(300), fmt(), data()),
        "ixml-bare-ampersand.wav": riff(
            fmt(), data(), ixml(IXML_TEXT.replace("Northbound Ferry", "Ferry & Sons").encode())
        ),
        "ixml-broken.wav": riff(fmt(), data(), ixml(IXML_TEXT.replace("</TAKE>", "").encode())),
        "ixml-nul-padded.wav": riff(fmt(), data(), ixml(IXML_TEXT.encode() + bytes(200))),
        "ixml-utf16.wav": riff(
            fmt(), data(), ixml(b"\xff\xfe" + IXML_TEXT.replace("UTF-8", "UTF-16").encode("utf-16-le"))
        ),
        "ixml-latin1.wav": riff(
            fmt(), data(), ixml(IXML_TEXT.replace("UTF-8", "ISO-8859-1").replace("Oda", "Åse").encode("latin-1"))
        ),
        "ixml-wrong-encoding.wav": riff(fmt(), data(), ixml(IXML_TEXT.replace("UTF-8", "UTF-16").encode())),
        "ixml-not-xml.wav": riff(fmt(), data(), ixml(noise(300))),
        "ixml-entity-bomb.wav": riff(fmt(), data(), ixml(_bomb())),
        "second-data.wav": riff(bext(), fmt(), data(raw=audio(1000)), data(raw=audio(half // FRAME))),
        "riff-big-endian.wav": riff(fmt(), data(), name=b"RIFX"),
    }


def _bomb() -> bytes:
    entities = ['<!ENTITY a0 "wave">'] + [f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10)]
    entities.append('<!ENTITY out SYSTEM "file:///etc/hostname">')
    body = IXML_TEXT.split("?>", 1)[1].replace("12A", "12A&a9;&out;")
    return f'<?xml version="1.0"?><!DOCTYPE BWFXML [{"".join(entities)}]>{body}'.encode()


def main() -> None:
    """Write the folder anew."""
    folder = Path(__file__).parent
    for old in folder.glob("*.wav"):
        old.unlink()
    for name, raw in files().items():
        (folder / name).write_bytes(raw)


if __name__ == "__main__":
    main()
