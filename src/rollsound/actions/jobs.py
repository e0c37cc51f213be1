"""Many independent jobs on all cores: told as they finish, stopped at a safe point."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from typing import TypeVar

from rollsound.progress import Progress

JobT = TypeVar("JobT")
ResultT = TypeVar("ResultT")

# Short enough that Ctrl-C is felt at once on systems whose waits cannot be interrupted.
_LOOK_UP_SECONDS = 0.2


def cores() -> int:
    """How many jobs run at once by default."""
    return os.cpu_count() or 1


def run_jobs(
    jobs: Sequence[JobT], work: Callable[[JobT], ResultT], progress: Progress, workers: int | None = None
) -> Iterator[tuple[int, ResultT]]:
    """Do every job on threads (the hot loops release the interpreter); yield (place in ``jobs``, result) as each ends.

    The first failure stops the rest at their next safe point and is raised once they have stopped.
    """
    with ThreadPoolExecutor(max_workers=workers or cores()) as pool:
        places: dict[Future[ResultT], int] = {pool.submit(work, job): n for n, job in enumerate(jobs)}
        waiting = set(places)
        try:
            while waiting:
                done, waiting = wait(waiting, timeout=_LOOK_UP_SECONDS, return_when=FIRST_COMPLETED)
                for job in done:
                    yield places[job], job.result()
        except BaseException:
            progress.stop()
            pool.shutdown(cancel_futures=True)
            raise
