"""Continuity: a time is believed only when the words around it agree, so that noise cannot make up a time.

Three words must follow each other, in label and in place, before any of them counts. From then on a word
counts when it lies where the running count says; anything else must again prove itself by three. What lay between is
reported: gaps (no readable code), jumps (the count changed), labels that do not exist.
"""

from __future__ import annotations

from typing import Literal, NamedTuple, TypeVar

from rollsound.timecode.infer import infer_rate
from rollsound.timecode.label import Timecode, count, illegal
from rollsound.timecode.rates import Rate

CONFIRMED_BY = 3
_WAIT_WORDS = 61  # words to wait for a change of seconds: two seconds at most
_PLACE_TOLERANCE = 0.1  # of a frame
_SPEED_TOLERANCE = 0.15
_SAME_SPEED = 0.0003
_SAME_GENERATOR = 0.01
_LISTED = 1000  # gaps, jumps and strange labels kept; the rest are only counted

T = TypeVar("T")
Direction = Literal["forward", "reverse"]


class LtcEntry(NamedTuple):
    """One frame of time code found in the sound.

    Attributes
    ----------
    sample : float
        position of the frame's reference edge (start of bit 0) in samples since the first one fed
    timecode : Timecode
    direction : "forward" or "reverse"
    user_bits : bytes
        four bytes, user group 1 in the low half of the first
    end_sample : float
        where the word ends; before ``sample`` when the tape runs backwards
    level_dbfs : float
        peak of the code
    residual_samples : float
        rms distance of the edges from the fitted line: the jitter of the code
    groups : int
        binary group flags, bit n for flag n
    colour_frame, polarity_holds : bool
        the flag, and whether the number of zeros is even
    rising : bool
        whether bit 0 starts with a rising edge, in the order of playing; changes when the wires are swapped
    """

    sample: float
    timecode: Timecode
    direction: Direction
    user_bits: bytes
    end_sample: float
    level_dbfs: float
    residual_samples: float
    groups: int
    colour_frame: bool
    polarity_holds: bool
    rising: bool


class LtcGap(NamedTuple):
    """A stretch between two readable frames without readable code."""

    start_sample: float
    length_samples: float


class LtcJump(NamedTuple):
    """A place where the count does not go on: what should have come at ``sample``, and what came."""

    sample: float
    expected: Timecode
    found: Timecode


class StrangeLabel(NamedTuple):
    """A well-placed word whose label does not exist at the rate."""

    sample: float
    sentence: str


class Word(NamedTuple):
    """One code word as read, before it is believed. ``forward`` is +1 or -1; lengths are positive."""

    sample: float
    frame: float
    forward: int
    digits: tuple[int, int, int, int]
    drop: bool
    residual: float
    level_dbfs: float
    user_bits: bytes
    groups_24: int
    groups_25: int
    colour_frame: bool
    polarity_holds: bool
    rising: bool


class SpeedLine:
    """Least-squares frame length over a stretch of code, by running sums."""

    def __init__(self) -> None:
        self._start = self._count = self._frames = self._frames2 = self._samples = self._products = 0.0
        self._last = self._number = 0.0
        self._first_frame = 1.0

    def add(self, sample: float, frame: float) -> None:
        """One more frame at ``sample``; frames missing between are counted by ``frame``, its length."""
        if not self._count:
            self._start, self._first_frame = sample, frame
        else:
            self._number += round((sample - self._last) / frame)
        away = sample - self._start - self._number * self._first_frame
        self._last = sample
        self._count += 1.0
        self._frames += self._number
        self._frames2 += self._number * self._number
        self._samples += away
        self._products += away * self._number

    @property
    def frame_samples(self) -> float | None:
        """Length of one frame; None below two frames."""
        spread = self._count * self._frames2 - self._frames * self._frames
        if spread <= 0:
            return None
        return self._first_frame + (self._count * self._products - self._frames * self._samples) / spread


class Chain:
    """Believes words; see the module's text. Words are counted at the pair rate, entries at the rate itself."""

    def __init__(self, sample_rate_hz: int, rate: Rate | None) -> None:
        self.sample_rate_hz = sample_rate_hz
        self.given = rate
        self.rate = rate
        self.gaps: list[LtcGap] = []
        self.jumps: list[LtcJump] = []
        self.strange: list[StrangeLabel] = []
        self.rejected = 0
        self.uncounted = 0
        self.drop_flag_differs = False
        self.speed = SpeedLine()
        self._frame: float | None = None
        self._held: list[Word] = []
        self._rolled: int | None = None
        self._last: Word | None = None
        self._last_number = 0
        self._pair: Rate | None = None
        self._day = 1

    def take(self, word: Word, entries: list[LtcEntry]) -> None:
        """Weigh one more word; those now believed are added to ``entries``."""
        last = self._last
        rate, pair = self.rate, self._pair
        if last is not None and rate is not None and pair is not None and word.forward == last.forward:
            frames = self._frames_between(last, word)
            if 0 < frames <= pair.nominal:
                reason = illegal(*word.digits, pair)
                if not reason:
                    number = count(*word.digits, pair)
                    if (number - self._last_number - frames * word.forward) % self._day == 0:
                        if self._held:
                            self._drop_held()
                        if frames > 1:
                            self._gap(last, word)
                        self._believe(word, number, rate, entries)
                        return
                elif _same_hand(last, word):
                    self._list(self.strange, StrangeLabel(word.sample, reason))
                    return
        self._hold(word, entries)

    def finish(self, entries: list[LtcEntry]) -> None:
        """No more words come: believe what waits only for its rate to be known."""
        if len(self._held) >= CONFIRMED_BY:
            self._settle(entries)
        self._drop_held()

    def _hold(self, word: Word, entries: list[LtcEntry]) -> None:
        """Keep an unproven word; three in a row are believed once their rate is known."""
        if self._held and not self._follows(self._held[-1], word):
            if len(self._held) >= CONFIRMED_BY:
                self._settle(entries)
                self.take(word, entries)
                return
            self._drop_held()
        self._held.append(word)
        if len(self._held) >= CONFIRMED_BY and (
            self._rolled is not None or self._known_rate(word) is not None or len(self._held) >= _WAIT_WORDS
        ):
            self._settle(entries)

    def _known_rate(self, word: Word) -> Rate | None:
        """The rate, where no change of seconds need be waited for: given, or the speed is as before."""
        if self.given is not None or self.rate is None or self._frame is None:
            return self.given
        same = abs(word.frame / self._frame - 1) < _SAME_SPEED and word.digits[3] < self.rate.nominal
        return self.rate if same else None

    def _follows(self, before: Word, word: Word) -> bool:
        """True when ``word`` continues ``before``, as far as that can be told without knowing the rate."""
        frames = self._frames_between(before, word)
        if word.forward != before.forward or not 0 < frames <= 24:
            return False
        early, late = (before.digits, word.digits) if word.forward > 0 else (word.digits, before.digits)
        if early[:3] == late[:3]:
            return late[3] - early[3] == frames
        rate = self._rate_of(before.frame, word.drop)
        if frames == 1 and early[3] in (23, 24, 29) and self.given is None and _rolls(early, late, word.drop):
            self._rolled = early[3] + 1
            return True
        if illegal(*early, rate.pair) or illegal(*late, rate.pair):
            return False
        step = count(*late, rate.pair) - count(*early, rate.pair)
        return step % rate.pair.frames_per_day == frames

    def _rate_of(self, frame: float, drop: bool) -> Rate:
        if self.given is not None:
            return self.given
        return infer_rate(self.sample_rate_hz / frame, self._rolled, drop)

    def _frames_between(self, before: Word, word: Word) -> int:
        """Whole frames from one word to the next in time, or 0 when they do not lie on one grid."""
        frame = 0.5 * (before.frame + word.frame)
        if abs(before.frame - word.frame) > _SPEED_TOLERANCE * frame:
            return 0
        frames = (word.sample - before.sample) / frame
        whole = round(frames)
        return whole if abs(frames - whole) < _PLACE_TOLERANCE * max(1, whole) ** 0.5 else 0

    def _settle(self, entries: list[LtcEntry]) -> None:
        """Believe the held words: fix the rate, report what lies before them."""
        held = self._held
        first, final = held[0], held[-1]
        steps = sum(self._frames_between(held[i], held[i + 1]) for i in range(len(held) - 1))
        frame = (final.sample - first.sample) / steps
        rate = self._known_rate(final) or infer_rate(self.sample_rate_hz / frame, self._rolled, first.drop)
        self.rate, self._frame = rate, frame
        self._pair, self._day = rate.pair, rate.pair.frames_per_day
        self.speed = SpeedLine()
        self.drop_flag_differs |= rate.drop != first.drop and rate.nominal in (30, 60)
        if self._last is not None:
            self._jump(self._last, first, rate)
        self._held, self._rolled = [], None
        for word in held:
            if self._last is not None:
                self._gap(self._last, word)
            reason = illegal(*word.digits, rate.pair)
            if reason:
                self._list(self.strange, StrangeLabel(word.sample, reason))
            else:
                self._believe(word, count(*word.digits, rate.pair), rate, entries)

    def _believe(self, word: Word, number: int, rate: Rate, entries: list[LtcEntry]) -> None:
        hours, minutes, seconds, frames = word.digits
        forward = word.forward > 0
        entries.append(
            LtcEntry(
                word.sample,
                Timecode(hours, minutes, seconds, frames if rate.nominal <= 30 else 2 * frames, rate),
                "forward" if forward else "reverse",
                word.user_bits,
                word.sample + word.frame if forward else word.sample - word.frame,
                word.level_dbfs,
                word.residual,
                word.groups_25 if rate.nominal in (25, 50) else word.groups_24,
                word.colour_frame,
                word.polarity_holds,
                word.rising,
            )
        )
        self.speed.add(word.sample, word.frame)
        self._last, self._last_number = word, number

    def _gap(self, before: Word, after: Word) -> None:
        start = before.sample + before.frame if before.forward > 0 else before.sample
        end = after.sample if after.forward > 0 else after.sample - after.frame
        if end - start > 0.5 * after.frame:
            self._list(self.gaps, LtcGap(start, end - start))

    def _jump(self, before: Word, after: Word, rate: Rate) -> None:
        """Report a change of the count that the time between does not explain."""
        if before.forward != after.forward or illegal(*after.digits, rate.pair) or illegal(*before.digits, rate.pair):
            return
        day = rate.pair.frames_per_day
        frames = round((after.sample - before.sample) / after.frame)
        expected = (count(*before.digits, rate.pair) + frames * after.forward) % day
        found = count(*after.digits, rate.pair)
        slack = 1 + frames // 10_000  # both clocks may drift while nothing is heard
        if slack <= (found - expected) % day <= day - slack:
            words = rate.nominal // rate.pair.nominal
            labels = (Timecode.from_frames(number * words, rate) for number in (expected, found))
            self._list(self.jumps, LtcJump(after.sample, *labels))

    def _drop_held(self) -> None:
        self.rejected += len(self._held)
        self._held, self._rolled = [], None

    def _list(self, place: list[T], what: T) -> None:
        if len(place) < _LISTED:
            place.append(what)
        else:
            self.uncounted += 1


def _same_hand(before: Word, word: Word) -> bool:
    """True when a word is so well formed that a label which does not exist must be the generator's own."""
    steady = abs(word.frame / before.frame - 1) < _SAME_GENERATOR
    return steady and (word.polarity_holds or not before.polarity_holds)


def _rolls(early: tuple[int, int, int, int], late: tuple[int, int, int, int], drop: bool) -> bool:
    """True when ``late`` is the first label of the second after ``early``."""
    start = early[0] * 3600 + early[1] * 60 + early[2]
    end = late[0] * 3600 + late[1] * 60 + late[2]
    first = 2 if drop and late[2] == 0 and late[1] % 10 else 0
    return (end - start) % 86_400 == 1 and late[3] == first
