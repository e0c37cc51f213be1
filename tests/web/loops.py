"""A loop of a test's own. A browser that was driven earlier in the same run keeps one running in the main thread."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

T = TypeVar("T")


def run(work: Coroutine[Any, Any, T]) -> T:
    """What comes of the work, done in a loop of its own, on a thread of its own."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result(60)
