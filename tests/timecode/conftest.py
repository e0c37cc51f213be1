"""A reference library for linear time code, reached through its C interface; tests that need it skip without it."""

import ctypes
import ctypes.util
from dataclasses import dataclass

import numpy as np
import pytest


class LtcFrame(ctypes.Structure):
    _fields_ = [("bytes", ctypes.c_uint8 * 10)]


class LtcFrameExt(ctypes.Structure):
    _fields_ = [
        ("ltc", LtcFrame),
        ("off_start", ctypes.c_longlong),
        ("off_end", ctypes.c_longlong),
        ("reverse", ctypes.c_int),
        ("biphase_tics", ctypes.c_float * 80),
        ("sample_min", ctypes.c_uint8),
        ("sample_max", ctypes.c_uint8),
        ("volume", ctypes.c_double),
    ]


class SmpteTimecode(ctypes.Structure):
    _fields_ = [("timezone", ctypes.c_char * 6)] + [
        (name, ctypes.c_ubyte) for name in ("years", "months", "days", "hours", "mins", "secs", "frame")
    ]


@dataclass(frozen=True)
class Read:
    """One frame as the library read it."""

    label: str
    drop: bool
    reverse: bool
    start: int
    user_bits: int
    word: bytes


class LibLtc:
    def __init__(self, library: ctypes.CDLL) -> None:
        self._c = library
        pointer, number = ctypes.c_void_p, ctypes.c_double
        library.ltc_decoder_create.restype = pointer
        library.ltc_encoder_create.restype = pointer
        library.ltc_encoder_create.argtypes = [number, number, ctypes.c_int, ctypes.c_int]
        library.ltc_decoder_write_float.argtypes = [pointer, pointer, ctypes.c_size_t, ctypes.c_longlong]
        library.ltc_decoder_read.argtypes = [pointer, ctypes.POINTER(LtcFrameExt)]
        library.ltc_decoder_free.argtypes = [pointer]
        library.ltc_frame_get_user_bits.argtypes = [ctypes.POINTER(LtcFrame)]
        library.ltc_frame_get_user_bits.restype = ctypes.c_ulong
        library.ltc_frame_to_time.argtypes = [ctypes.POINTER(SmpteTimecode), ctypes.POINTER(LtcFrame), ctypes.c_int]
        for name in ("encode_frame", "inc_timecode", "free", "end_encode"):
            getattr(library, f"ltc_encoder_{name}").argtypes = [pointer]
        library.ltc_encoder_set_timecode.argtypes = [pointer, ctypes.POINTER(SmpteTimecode)]
        library.ltc_encoder_get_buffer.argtypes = [pointer, pointer]
        library.ltc_encoder_get_frame.argtypes = [pointer, ctypes.POINTER(LtcFrame)]
        library.ltc_encoder_set_user_bits.argtypes = [pointer, ctypes.c_ulong]

    def decode(self, sound: np.ndarray, samples_per_frame: int) -> list[Read]:
        decoder = self._c.ltc_decoder_create(samples_per_frame, 4096)
        found = []
        frame, clock = LtcFrameExt(), SmpteTimecode()
        sound = np.ascontiguousarray(sound, np.float32)
        for start in range(0, sound.size, 32_768):
            piece = sound[start : start + 32_768]
            self._c.ltc_decoder_write_float(decoder, piece.ctypes.data, piece.size, start)
            while self._c.ltc_decoder_read(decoder, ctypes.byref(frame)):
                self._c.ltc_frame_to_time(ctypes.byref(clock), ctypes.byref(frame.ltc), 0)
                word = bytes(frame.ltc.bytes)
                label = f"{clock.hours:02d}:{clock.mins:02d}:{clock.secs:02d}:{clock.frame:02d}"
                user = self._c.ltc_frame_get_user_bits(ctypes.byref(frame.ltc))
                found.append(Read(label, bool(word[1] & 4), bool(frame.reverse), frame.off_start, user, word))
        self._c.ltc_decoder_free(decoder)
        return found

    def encode(
        self, label: tuple[int, int, int, int], frames: int, sample_rate_hz: int, fps: float, user_bits: int = 0
    ) -> tuple[np.ndarray, list[bytes]]:
        """Sound as float with full scale 1, and the words it holds. Only 29.97 is written as drop-frame."""
        standard = {24: 3, 25: 1}.get(round(fps), 0)
        encoder = self._c.ltc_encoder_create(float(sample_rate_hz), fps, standard, 4)
        clock = SmpteTimecode()
        clock.timezone = b"+0000"
        clock.hours, clock.mins, clock.secs, clock.frame = label
        self._c.ltc_encoder_set_user_bits(encoder, user_bits)
        self._c.ltc_encoder_set_timecode(encoder, ctypes.byref(clock))  # after the user bits: it settles the polarity
        room = np.zeros(65_536, np.uint8)
        pieces, words, frame = [], [], LtcFrame()
        for _ in range(frames):
            self._c.ltc_encoder_encode_frame(encoder)
            self._c.ltc_encoder_get_frame(encoder, ctypes.byref(frame))
            words.append(bytes(frame.bytes))
            count = self._c.ltc_encoder_get_buffer(encoder, room.ctypes.data)
            pieces.append(room[:count].copy())
            self._c.ltc_encoder_inc_timecode(encoder)
        self._c.ltc_encoder_end_encode(encoder)
        count = self._c.ltc_encoder_get_buffer(encoder, room.ctypes.data)
        pieces.append(room[:count].copy())
        self._c.ltc_encoder_free(encoder)
        sound = (np.concatenate(pieces).astype(np.float32) - 128) / 128
        return sound, words


@pytest.fixture(scope="session")
def libltc() -> LibLtc:
    for name in ("libltc.so.11", ctypes.util.find_library("ltc")):
        if name:
            try:
                return LibLtc(ctypes.CDLL(name))
            except (OSError, AttributeError):
                continue
    pytest.skip("the libltc library is not on this machine (Debian: apt-get install libltc11)")
