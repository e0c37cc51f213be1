"""Copy files to several places at once: read once, digest while reading, write everywhere, read back, then name.

One thread reads and digests; every place has one thread that writes and one that proves. Blocks come from a fixed
pool, so memory does not grow. A file gets its name only after its bytes were flushed, read back and found equal, so
whatever ends the run, no half or unproven file stands under a final name.

Longer than most files: the three kinds of thread hand blocks to one another and are only understood together.
"""

from __future__ import annotations

import contextlib
import os
import queue
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType

from rollsound.errors import Halted, StorageError, storage, storage_error
from rollsound.progress import Progress
from rollsound.turnover.forget import forget_cached
from rollsound.turnover.hashing import new_hasher, written
from rollsound.turnover.mhl import Entry
from rollsound.turnover.place import CopyJob, Place, Plan
from rollsound.wave.disk import discard, part_name, publish

BLOCK_BYTES = 2 << 20
BLOCKS = 12
# Files written but not yet proven, per place; each holds an open file.
WAITING_FILES = 16


class Block:
    """Bytes on their way to several writers; goes back to the pool when the last has let go."""

    def __init__(self, pool: queue.SimpleQueue[Block]) -> None:
        self.memory = memoryview(bytearray(BLOCK_BYTES))
        self.count = 0
        self._pool = pool
        self._holders = 0
        self._lock = threading.Lock()

    def hand_to(self, holders: int) -> None:
        """Say how many will let go of it."""
        self._holders = holders
        if not holders:
            self._pool.put(self)

    def let_go(self) -> None:
        """One holder is done with it."""
        with self._lock:
            self._holders -= 1
            last = self._holders == 0
        if last:
            self._pool.put(self)


@dataclass
class Begin:
    """A file starts; with ``plan`` COMPARE nothing is written."""

    job: CopyJob
    plan: Plan


@dataclass
class End:
    """A file ends; no digests when it could not be read to its end."""

    digests: dict[str, str] = field(default_factory=dict)


@dataclass
class Written:
    """A file that waits to be proven. ``part`` is None when one lies there already under its final name."""

    job: CopyJob
    part: Path | None
    handle: int
    digests: dict[str, str]


@dataclass
class CopyOutcome:
    """What was read (path to entry), and why what was not read was not."""

    read: dict[str, Entry] = field(default_factory=dict)
    unreadable: dict[str, str] = field(default_factory=dict)
    halted: bool = False


class Teller:
    """Counts bytes of all threads; a wish to stop is remembered here and acted on by the reader."""

    def __init__(self, progress: Progress, job: str, total: int) -> None:
        self._progress, self._job, self._total = progress, job, max(total, 1)
        self._lock = threading.Lock()
        self._done = 0

    def add(self, size_bytes: int, label: str) -> None:
        """So many bytes more were read, or read back."""
        with self._lock:
            self._done += size_bytes
            with contextlib.suppress(Halted):
                self._progress.tell(self._job, min(self._done, self._total), self._total, "bytes", label)

    @property
    def stopping(self) -> bool:
        """Whether the person asked to stop."""
        return self._progress.stopping


class Lane:
    """The two threads of one place."""

    def __init__(self, place: Place, teller: Teller) -> None:
        self.place, self.teller = place, teller
        self.inbox: queue.SimpleQueue[Begin | Block | End | None] = queue.SimpleQueue()
        self.waiting: queue.Queue[Written | None] = queue.Queue(WAITING_FILES)
        self.fault: BaseException | None = None
        self.given_up = False
        self._job: Begin | None = None
        self._part: Path | None = None
        self._handle = -1
        self._threads = [
            threading.Thread(target=self._guarded, args=(work,), name=f"offload-{work.__name__}", daemon=True)
            for work in (self._write, self._prove)
        ]
        for thread in self._threads:
            thread.start()

    def _guarded(self, work: Callable[[], None]) -> None:
        # A fault of ours in one message must not leave the others waiting forever.
        while True:
            try:
                work()
                return
            except Exception as error:
                self.fault = self.fault or error
                self.place.lost = self.place.lost or str(error)
                if work == self._write:  # the half-written file belongs to that thread alone
                    self._drop()

    def close(self) -> None:
        """Wait until everything handed over is written and proven."""
        self.inbox.put(None)
        for thread in self._threads:
            thread.join()
        if self.fault is not None:
            raise self.fault

    # ---- writing

    def _write(self) -> None:
        while (message := self.inbox.get()) is not None:
            if isinstance(message, Begin):
                self._begin(message)
            elif isinstance(message, Block):
                try:
                    self._put(message)
                finally:
                    message.let_go()
            else:
                self._end(message)
        self.waiting.put(None)

    def _begin(self, message: Begin) -> None:
        self._job = message
        if message.plan is not Plan.WRITE or self.place.lost:
            return
        path = self.place.root / message.job.path
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._part = part_name(path)
            self._handle = os.open(self._part, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o644)
        except OSError as error:
            self._part = None
            self.place.fail(message.job, error)

    def _put(self, block: Block) -> None:
        if self._handle < 0 or self._job is None:
            return
        data = block.memory[: block.count]
        try:
            while data:
                data = data[os.write(self._handle, data) :]
        except OSError as error:
            self.place.fail(self._job.job, error)
            self._drop()

    def _end(self, message: End) -> None:
        begun, part, handle = self._job, self._part, self._handle
        if begun is None or not message.digests or (begun.plan is Plan.WRITE and handle < 0):
            self._drop()
            return
        self._job, self._part, self._handle = None, None, -1
        self.waiting.put(Written(begun.job, part, handle, message.digests))

    def _drop(self) -> None:
        handle, part = self._handle, self._part
        self._job, self._part, self._handle = None, None, -1
        if handle >= 0:
            with contextlib.suppress(OSError):
                os.close(handle)
        if part is not None:
            discard(part)

    # ---- proving

    def _prove(self) -> None:
        memory = memoryview(bytearray(BLOCK_BYTES))
        while (item := self.waiting.get()) is not None:
            try:
                if self.teller.stopping or self.given_up:
                    continue
                if item.part is None:
                    self._compare(item, memory)
                else:
                    self._prove_new(item, item.part, memory)
            except OSError as error:
                self.place.fail(item.job, error)
            finally:
                if item.handle >= 0:
                    with contextlib.suppress(OSError):
                        os.close(item.handle)
                if item.part is not None:
                    discard(item.part)

    def _prove_new(self, item: Written, part: Path, memory: memoryview) -> None:
        path = self.place.root / item.job.path
        os.fsync(item.handle)
        found = self._read_back(item, item.handle, memory)
        if found != item.digests:
            self.place.fail(
                item.job,
                StorageError(
                    f"{path} did not read back as it was written, so it was not kept; check the drive and its cable, "
                    "then run the same command again",
                    path=str(path),
                ),
            )
            return
        times = (item.job.modified_ns, item.job.modified_ns)
        os.utime(item.handle if os.utime in os.supports_fd else part, ns=times)
        if os.name == "nt":  # an open file cannot be renamed there
            os.close(item.handle)
            item.handle = -1
        publish(part, path)
        self.place.copied[item.job.path] = _entry(item)
        self.place.bytes_written += item.job.size

    def _compare(self, item: Written, memory: memoryview) -> None:
        with open(self.place.root / item.job.path, "rb", buffering=0) as file:
            found = self._read_back(item, file.fileno(), memory)
        if found == item.digests:
            self.place.there[item.job.path] = _entry(item)
        else:
            self.place.keep_theirs(item.job)

    def _read_back(self, item: Written, handle: int, memory: memoryview) -> dict[str, str]:
        """Digest what is on the disk, having asked the system to forget what it holds in memory."""
        if not forget_cached(handle):
            self.place.from_disk = False
        os.lseek(handle, 0, os.SEEK_SET)
        hashers = {name: new_hasher(name) for name in item.digests}
        while count := os.readv(handle, [memory]) if hasattr(os, "readv") else _read_into(handle, memory):
            for hasher in hashers.values():
                hasher.update(memory[:count])
            self.teller.add(count, item.job.path)
        return {name: written(name, hasher.digest()) for name, hasher in hashers.items()}


def _read_into(handle: int, memory: memoryview) -> int:
    data = os.read(handle, len(memory))
    memory[: len(data)] = data
    return len(data)


def _entry(item: Written) -> Entry:
    return Entry(item.job.path, item.job.size, item.job.modified_ns, item.digests)


class Copier:
    """Copies jobs to places; a context so that the threads always end."""

    def __init__(self, places: Sequence[Place], teller: Teller) -> None:
        self.lanes = [Lane(place, teller) for place in places]
        self.teller = teller
        self.pool: queue.SimpleQueue[Block] = queue.SimpleQueue()
        for _ in range(BLOCKS):
            self.pool.put(Block(self.pool))

    def __enter__(self) -> Copier:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if error is not None:
            for lane in self.lanes:
                lane.given_up = True
                lane.inbox.put(End())
        for lane in self.lanes:
            lane.close()

    def copy(self, job: CopyJob, algorithms: Sequence[str]) -> Entry | None:
        """Read one file and hand it to every place that needs it; None when none does.

        Raises
        ------
        StorageError
            when the file cannot be read to its end, or changes meanwhile
        Halted
            when the person asked to stop
        """
        plans = [(lane, lane.place.plan(job)) for lane in self.lanes]
        takers = [(lane, plan) for lane, plan in plans if plan is not Plan.NOTHING]
        # Read back once per place that did not need it: keeps the count of bytes honest.
        for _ in range(len(plans) - len(takers)):
            self.teller.add(job.size, job.path)
        if not takers:
            self.teller.add(job.size, job.path)
            return None
        for lane, plan in takers:
            lane.inbox.put(Begin(job, plan))
        end = End()
        try:
            end = End(self._read(job, algorithms, [lane for lane, plan in takers if plan is Plan.WRITE]))
        finally:
            for lane, _ in takers:
                lane.inbox.put(end)
        return Entry(job.path, job.size, job.modified_ns, end.digests)

    def _read(self, job: CopyJob, algorithms: Sequence[str], lanes: list[Lane]) -> dict[str, str]:
        hashers = {name: new_hasher(name) for name in algorithms}
        done = 0
        with storage(job.source), open(job.source, "rb", buffering=0) as file:
            for block in self._blocks():
                block.count = file.readinto(block.memory) or 0
                # Past its size it grows: something still writes to it, and reading on might never end.
                if not block.count or done + block.count > job.size:
                    done += block.count
                    block.hand_to(0)
                    break
                # Digested first: once handed on, the block may be filled again at any moment.
                for hasher in hashers.values():
                    hasher.update(block.memory[: block.count])
                block.hand_to(len(lanes))
                for lane in lanes:
                    lane.inbox.put(block)
                done += block.count
                self.teller.add(block.count, job.path)
            now = os.fstat(file.fileno())
        if done != job.size or now.st_mtime_ns != job.modified_ns:
            raise StorageError(
                f"{job.source} changed while it was read; wait until nothing writes to it, then run the same command "
                "again",
                path=str(job.source),
            )
        return {name: written(name, hasher.digest()) for name, hasher in hashers.items()}

    def _blocks(self) -> Iterator[Block]:
        while True:
            if self.teller.stopping:
                raise Halted(
                    "Stopped as you asked; what was finished is kept, and the same command goes on from there."
                )
            block = self.pool.get()
            if all(lane.place.lost for lane in self.lanes):
                self.pool.put(block)
                raise StorageError(self.lanes[0].place.lost)
            yield block


def copy_files(
    jobs: Sequence[CopyJob],
    places: Sequence[Place],
    algorithms: Callable[[CopyJob], Sequence[str]],
    progress: Progress,
    name: str = "offload",
) -> CopyOutcome:
    """Copy every job to every place. What went wrong in one place is noted there and the rest goes on.

    A wish to stop is obeyed at once and noted in ``halted``; what was proven by then stands under its name.
    """
    outcome = CopyOutcome()
    total = sum(job.size for job in jobs) * (1 + len(places))
    with Copier(places, Teller(progress, name, total)) as copier:
        for job in jobs:
            if all(place.lost for place in places):
                break
            try:
                progress.check()
                entry = copier.copy(job, algorithms(job))
            except Halted:
                outcome.halted = True
                break
            except OSError as error:
                if all(place.lost for place in places):
                    break
                sentence = error.sentence if isinstance(error, StorageError) else storage_error(error, job.source)
                outcome.unreadable[job.path] = str(sentence)
                continue
            if entry is not None:
                outcome.read[job.path] = entry
    # The last file may have been read to its end before the wish came, and yet not be proven everywhere.
    outcome.halted = outcome.halted or (progress.stopping and _unsettled(jobs, places, outcome))
    return outcome


def _unsettled(jobs: Sequence[CopyJob], places: Sequence[Place], outcome: CopyOutcome) -> bool:
    """Whether there is a file of which some place can neither say that it is proven nor why it is not."""
    wanted = {job.path for job in jobs} - outcome.unreadable.keys()
    return any(not place.lost and wanted - place.settled for place in places)
