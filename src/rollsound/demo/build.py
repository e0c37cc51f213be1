"""Build the whole day from one seed: recorder files, cards, sheets, and the truth about them.

The day passes in blocks of one site each; only one block of the sound is in memory at a time. The whole
process peaks below 1 GB.
"""

from __future__ import annotations

import os
import shutil
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import numpy as np

from rollsound.demo.card import CardHead
from rollsound.demo.chance import generator
from rollsound.demo.day_four import DAY_FOUR
from rollsound.demo.files import (
    NOTICE,
    card_writer,
    never_finalise,
    write_readme,
    write_take,
    write_takes_sheet,
    write_wearers_sheet,
)
from rollsound.demo.ledger import true_card, true_findings, true_take
from rollsound.demo.recorder import FRAME_RATE, record
from rollsound.demo.scenario import SAMPLE_RATE_HZ, Block, Card, Day, person
from rollsound.demo.stage import Stage
from rollsound.demo.truth import TrueTake, Truth
from rollsound.demo.voice import F32, speak
from rollsound.errors import InputError, storage
from rollsound.progress import Progress
from rollsound.timecode import Timecode, samples_of_timecode
from rollsound.wave import WaveWriter, read_info
from rollsound.whole import write_whole

_OURS = ("recorder", "cards", "takes.csv", "wearers.csv", "truth.json", "README.txt")
CUT_BYTES = 40_001
"""How much of its end a file loses with the power: not a whole number of frames."""


def build_day(out: Path, *, seed: int = 4, progress: Progress | None = None, day: Day = DAY_FOUR) -> Truth:
    """Synthesise a day into a folder.

    The same seed and day give the same bytes on one machine. Nothing that is there is overwritten, and a run that is
    stopped or fails takes away what it wrote.

    Parameters
    ----------
    out
        folder for ``recorder/``, ``cards/<card>/``, ``takes.csv``, ``wearers.csv``, ``truth.json`` and ``README.txt``
    progress
        hears of each part; may ask to stop between parts

    Raises
    ------
    InputError
        when the folder holds a day already
    StorageError
        when the disk fails or is full
    """
    progress = progress or Progress()
    with storage(out):
        out.mkdir(parents=True, exist_ok=True)
        for name in _OURS:
            if (out / name).exists():
                raise InputError(f"{out / name} is there already and is never overwritten; name a new folder")
    try:
        return _build(out, seed, progress, day)
    except BaseException:
        for name in _OURS:
            shutil.rmtree(out / name, ignore_errors=True)
            (out / name).unlink(missing_ok=True)
        raise


def _build(out: Path, seed: int, progress: Progress, day: Day) -> Truth:
    with storage(out):
        for folder in (out / "recorder", *(out / "cards" / card.name for card in day.cards)):
            folder.mkdir(parents=True)
    start = int(samples_of_timecode(Timecode.parse(day.starts_at, FRAME_RATE), SAMPLE_RATE_HZ))
    with ThreadPoolExecutor(max_workers=min(os.cpu_count() or 1, 4)) as pool:
        takes = _Builder(out, day, seed, start, pool, progress).build()
    cards = tuple(true_card(day, card) for card in day.cards)
    truth = Truth(
        notice=NOTICE,
        project=day.project,
        seed=seed,
        sample_rate_hz=SAMPLE_RATE_HZ,
        frame_rate=str(FRAME_RATE),
        day_starts_at_samples=start,
        takes=tuple(takes),
        cards=cards,
        findings=true_findings(takes),
    )
    write_takes_sheet(out / "takes.csv", day)
    write_wearers_sheet(out / "wearers.csv", day)
    write_readme(out / "README.txt", day)
    write_whole(out / "truth.json", truth.model_dump_json(indent=1))
    return truth


class _CardFile:
    """One file of a card being written."""

    def __init__(self, path: Path, day: Day, card: Card, span: tuple[float, float], seed: int, start: int) -> None:
        self.path, self.card, self.span = path, card, span
        self.head = CardHead(card, span, seed)
        stamp = start + round((span[0] + card.jam_error_s) * SAMPLE_RATE_HZ)
        self.writer: WaveWriter = card_writer(path, day, card, stamp, seed)

    def feed(self, sound: F32, day_sample: int) -> None:
        self.writer.write(self.head.feed(sound, day_sample))


class _Builder:
    """The day going by."""

    def __init__(self, out: Path, day: Day, seed: int, start: int, pool: Executor, progress: Progress) -> None:
        self.out, self.day, self.seed, self.start = out, day, seed, start
        self.pool, self.progress = pool, progress
        self.done, self.total = 0, len(day.blocks) + len(day.takes) + 1

    def _tell(self, label: str) -> None:
        self.progress.tell("demo", self.done, self.total, "parts", label)
        self.done += 1

    def build(self) -> list[TrueTake]:
        takes: list[TrueTake] = []
        with ExitStack() as stack:
            files = self._open_cards(stack)
            for block in self.day.blocks:
                self._tell(f"sound at the {block.site.value}")
                stage = Stage(self.day, block, self._waiting(block), self.seed, self.pool, self.progress)
                self._feed_cards(files, stage)
                takes += self._record_takes(block, stage)
            self._tell("closing the cards")
        for file in files:
            if not file.card.finalised:
                never_finalise(file.path, read_info(file.path).data_offset - 4, CUT_BYTES)
        for card in self.day.cards:
            if card.other_day:
                self._write_stray(card)
        return takes

    def _open_cards(self, stack: ExitStack) -> list[_CardFile]:
        files = []
        for card in self.day.cards:
            if card.other_day:
                continue
            for n, span in enumerate(card.spans, 1):
                path = self.out / "cards" / card.name / f"{card.name}_{n:02d}.wav"
                file = _CardFile(path, self.day, card, span, self.seed, self.start)
                stack.enter_context(file.writer)
                files.append(file)
        return files

    def _waiting(self, block: Block) -> tuple[str, ...]:
        """Whose card runs while they are not at this site."""
        return tuple(
            dict.fromkeys(
                card.wearer
                for card in self.day.cards
                if not card.other_day
                and card.wearer not in block.radios
                and any(begin < block.end_s and end > block.start_s for begin, end in card.spans)
            )
        )

    def _feed_cards(self, files: list[_CardFile], stage: Stage) -> None:
        block = stage.block
        running = [f for f in files if f.span[0] < block.end_s and f.span[1] > block.start_s]
        list(self.pool.map(lambda f: f.feed(stage.sound[f.card.wearer], stage.first), running))
        self.progress.check()

    def _record_takes(self, block: Block, stage: Stage) -> list[TrueTake]:
        takes = []
        for take in self.day.takes:
            if self.day.block_of(take) is not block:
                continue
            self._tell(f"take {take.file}")
            recorded = record(self.day, take, stage, self.seed, self.pool)
            names = self.day.tracks_of(take)
            start = self.start + recorded.first_day_sample
            files = write_take(self.out / "recorder", self.day, take, names, recorded.audio, start, self.seed)
            frames = recorded.audio.shape[0]
            if take.lost_power:
                path = self.out / "recorder" / files[0]
                never_finalise(path, read_info(path).data_offset - 4, CUT_BYTES)
                frames = read_info(path).frames
            takes.append(true_take(self.day, take, files, recorded, start, frames))
        return takes

    def _write_stray(self, card: Card) -> None:
        """A card of another day: other lines by the same person, another time of day."""
        rng = generator(self.seed, "stray", card.name)
        begin, end = card.spans[0]
        sound = np.zeros(round((end - begin) * SAMPLE_RATE_HZ), np.float32)
        speaker = person(card.wearer)
        at = SAMPLE_RATE_HZ
        while at < sound.size - 4 * SAMPLE_RATE_HZ:
            line = 0.6 * speak(speaker, float(rng.uniform(1.0, 2.5)), rng)
            sound[at : at + line.size] += line
            at += line.size + int(rng.integers(10_000, 60_000))
        sound += (0.0003 * rng.standard_normal(sound.size)).astype(np.float32)
        path = self.out / "cards" / card.name / f"{card.name}_01.wav"
        with card_writer(path, self.day, card, self.start + 7_000_000, self.seed) as writer:
            writer.write(sound)
