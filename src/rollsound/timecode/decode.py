"""Reading linear time code from sound, block by block."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError
from rollsound.timecode.chain import Chain, LtcEntry, LtcGap, LtcJump, StrangeLabel, Word
from rollsound.timecode.edges import EdgeFinder
from rollsound.timecode.frames import WordFinder, Words
from rollsound.timecode.rates import Rate

_PIECE = 65_536
_LOWEST_RATE_HZ = 16_000


class LtcDecoder:
    """Streaming reader of linear time code on one channel.

    Reads forward and backward play, either wiring, from half to double speed, from -50 dBFS to full scale and beneath
    noise down to 15 dB signal-to-noise ratio without a loss. A time counts only when three words agree, so worse noise
    loses frames but makes up none. The answers do not depend on how the sound is cut into blocks. Memory is bounded.

    Parameters
    ----------
    sample_rate_hz : int
        as the file claims
    rate : Rate, optional
        when known; otherwise inferred, and the first entries wait up to two seconds for it. Rates above 30
        frames per second must be given: their words count pairs and look like the half rate.

    Attributes
    ----------
    gaps, jumps, strange : lists
        where code was missing, where the count changed, which labels do not exist (at most 1000 kept of each)
    """

    def __init__(self, sample_rate_hz: int, rate: Rate | None = None) -> None:
        if sample_rate_hz < _LOWEST_RATE_HZ:
            raise InputError(
                f"Time code cannot be read at {sample_rate_hz} Hz; use a recording of at least {_LOWEST_RATE_HZ} Hz"
            )
        self.sample_rate_hz = sample_rate_hz
        self._edges = EdgeFinder(sample_rate_hz)
        self._words = WordFinder(self._edges.lag_samples)
        self._chain = Chain(sample_rate_hz, rate)
        self._taken = 0
        self._finished = False

    def feed(self, sound: NDArray[np.float32]) -> list[LtcEntry]:
        """Take the next samples, shape (frames,); returns the frames of time code now certain, in order of time."""
        if sound.ndim != 1:
            raise InputError("Time code is read from one channel at a time; pick the track that carries it")
        if self._finished:
            raise InputError("This reader was finished; use a new one for another recording")
        entries: list[LtcEntry] = []
        for start in range(0, sound.size, _PIECE):
            piece = np.ascontiguousarray(sound[start : start + _PIECE], np.float32)
            if not np.isfinite(piece).all():  # a broken float file must not silence the reader for good
                piece = np.nan_to_num(piece, nan=0.0, posinf=0.0, neginf=0.0)
            self._taken += piece.size
            self._weigh(self._words.feed(*self._edges.feed(piece), self._taken), entries)
        return entries

    def finish(self) -> list[LtcEntry]:
        """No more sound comes: the frames that were still waiting. A second call returns nothing."""
        entries: list[LtcEntry] = []
        if not self._finished:
            self._finished = True
            times, heights = self._edges.flush()
            self._weigh(self._words.feed(times, heights, self._taken, final=True), entries)
            self._chain.finish(entries)
        return entries

    @property
    def gaps(self) -> list[LtcGap]:
        """Stretches between readable frames without readable code, in samples."""
        return self._chain.gaps

    @property
    def jumps(self) -> list[LtcJump]:
        """Places where the count does not go on as the time between says: a jam, an edit."""
        return self._chain.jumps

    @property
    def strange(self) -> list[StrangeLabel]:
        """Labels in the code that do not exist at the rate."""
        return self._chain.strange

    @property
    def rate(self) -> Rate | None:
        """The rate given, or inferred so far; None until some code was read."""
        return self._chain.rate

    @property
    def rejected(self) -> int:
        """Words that looked like code but were not confirmed by their neighbours."""
        return self._chain.rejected

    @property
    def drop_flag_differs(self) -> bool:
        """True when the code's drop-frame flag contradicts the rate given."""
        return self._chain.drop_flag_differs

    @property
    def frame_samples(self) -> float | None:
        """Length of one word in the latest stretch of code, by least squares; None below two."""
        return self._chain.speed.frame_samples

    @property
    def speed_ppm(self) -> float | None:
        """How much faster than its rate the latest stretch of code ran, by the sample clock; None before any."""
        frame = self.frame_samples
        if self._chain.rate is None or frame is None:
            return None
        nominal = float(self._chain.rate.pair.samples_per_frame(self.sample_rate_hz))
        return (nominal / frame - 1.0) * 1e6

    def _weigh(self, words: Words, entries: list[LtcEntry]) -> None:
        for word in _listed(words):
            if word is None:
                self._chain.rejected += 1
            else:
                self._chain.take(word, entries)


def _listed(found: Words) -> list[Word | None]:
    """Words with their fields taken apart; None where the digits are no time of day."""
    if not found.start.size:
        return []
    data = found.data
    low = (data & 15).astype(np.int64)
    hours = low[:, 6] + 10 * (low[:, 7] & 3)
    minutes = low[:, 4] + 10 * (low[:, 5] & 7)
    seconds = low[:, 2] + 10 * (low[:, 3] & 7)
    frames = low[:, 0] + 10 * (low[:, 1] & 3)
    good = (low[:, ::2] <= 9).all(axis=1) & (hours < 24) & (minutes < 60) & (seconds < 60) & (frames < 30)
    high = data >> 4
    user = high[:, ::2] | high[:, 1::2] << 4
    bit_27, bit_43 = low[:, 3] >> 3 & 1, low[:, 5] >> 3 & 1
    bit_58, bit_59 = low[:, 7] >> 2 & 1, low[:, 7] >> 3 & 1
    # The sync word holds 13 ones, so the data bits must hold an odd number for an even total.
    even = np.unpackbits(data, axis=1).sum(axis=1) % 2 == 1
    forward = found.half_bit > 0
    columns = zip(
        found.start.tolist(),
        np.abs(160.0 * found.half_bit).tolist(),
        np.where(forward, 1, -1).tolist(),
        zip(hours.tolist(), minutes.tolist(), seconds.tolist(), frames.tolist(), strict=True),
        (low[:, 1] >> 2 & 1).astype(bool).tolist(),
        found.residual.tolist(),
        (20.0 * np.log10(np.abs(found.height))).tolist(),
        [user[i].tobytes() for i in range(len(user))],
        (bit_43 | bit_58 << 1 | bit_59 << 2).tolist(),
        (bit_27 | bit_58 << 1 | bit_43 << 2).tolist(),
        (low[:, 1] >> 3 & 1).astype(bool).tolist(),
        even.tolist(),
        found.rising.tolist(),
        strict=True,
    )
    return [Word(*fields) if fine else None for fields, fine in zip(columns, good.tolist(), strict=True)]
