"""What several floors' tests stand on: a small day of recorder takes and cards, written as files."""

from __future__ import annotations

import hashlib
import os
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import settings

from rollsound import kernel
from rollsound.timecode import Rate
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter

RATE_HZ = 48000

# A run that lets a change in must not fail for something that the change has nothing to do with: laws are tried on the
# same examples every time. `make soak` looks for new ones, and for more of them.
settings.register_profile("same", derandomize=True)
settings.register_profile("new", print_blob=True)
settings.load_profile("same")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--deep", action="store_true", help="try laws on new examples, and on several times as many")


def pytest_configure(config: pytest.Config) -> None:
    if config.getoption("--deep", default=False):
        os.environ["ROLLSOUND_DEEP"] = "1"  # workers inherit it
    if os.environ.get("ROLLSOUND_DEEP"):
        settings.load_profile("new")


LONG = Path(__file__).parent / "soak.toml"


def long_ones() -> dict[str, str]:
    """By the id of a test that is left to `make soak`, the id of the one that is run for it every time."""
    sets = tomllib.loads(LONG.read_text("utf-8"))["set"]
    return {id: each["stays"] for each in sets for id in each["soak"]}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    left = long_ones()
    for item in items:
        if item.nodeid in left:
            item.add_marker(pytest.mark.soak)


@contextmanager
def _held(loop: str) -> Iterator[None]:
    """Alone with a loop among all workers; where files cannot be held, never alone."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    folder = Path(tempfile.gettempdir()) / "rollsound loops"
    folder.mkdir(exist_ok=True)
    with (folder / hashlib.sha1(loop.encode()).hexdigest()).open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def compile_each_loop_once() -> None:
    """Of workers that need the same loop one compiles it, and the others find it on the disk."""
    plain = kernel._Kernel.compiled

    def compiled(self: Any) -> Any:
        from numba.core.compiler_lock import global_compiler_lock
        from numba.core.dispatcher import Dispatcher

        if not hasattr(Dispatcher, "alone"):
            alone: Callable[..., Any] = Dispatcher.compile

            def compile(self: Any, sig: Any) -> Any:
                # its own lock first, in the order of every thread, so that none waits for one that waits for it
                with global_compiler_lock, _held(f"{self.py_func.__code__.co_filename} {self.py_func.__qualname__}"):
                    return alone(self, sig)

            Dispatcher.alone, Dispatcher.compile = alone, compile
        return plain(self)

    kernel._Kernel.compiled = compiled  # type: ignore[method-assign]


compile_each_loop_once()


def bursts(rng: np.random.Generator, seconds: float) -> np.ndarray:
    """Noise that comes and goes like speech, long enough to align."""
    count = int(seconds * RATE_HZ)
    steps = np.repeat(rng.uniform(0, 1, count // 4800 + 1) ** 2, 4800)[:count]
    return (rng.standard_normal(count) * 0.08 * steps).astype(np.float32)


@pytest.fixture(scope="session")
def small_day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three takes of six tracks and two cards, laid out as a day."""
    rng = np.random.default_rng(11)
    folder = tmp_path_factory.mktemp("day")
    (folder / "recorder").mkdir()
    start = 36_000 * RATE_HZ
    voices = [bursts(rng, 70.0) for _ in range(2)]
    for name, voice in zip(("card-ane", "card-ivo"), voices, strict=True):
        (folder / "cards" / name).mkdir(parents=True)
        form = AudioFormat(RATE_HZ, 1, SampleFormat.PCM24)
        with WaveWriter(folder / "cards" / name / "0001.wav", form, bext=Bext(time_reference=start)) as writer:
            writer.write(voice[:, None])
    form = AudioFormat(RATE_HZ, 6, SampleFormat.PCM24)
    for number in range(3):
        at = 480_000 + number * 960_000
        sound = np.stack([rng.standard_normal(720_000).astype(np.float32) * 0.01 for _ in range(6)], axis=1)
        for n, voice in enumerate(voices):
            sound[:, 2 + n] = voice[at : at + 720_000] + 0.0003 * sound[:, 2 + n]
            sound[200_000:202_000, 2 + n] = 0
        names = ["Mix L", "Boom 1", "Ane", "Ivo", "Boom 2", "Boom 3"]
        ixml = IXml.build(scene="31", take=str(number + 1), sound_roll="R4", rate=Rate.parse("25"), tracks=names)
        path = folder / "recorder" / f"31T{number + 1}.wav"
        with WaveWriter(path, form, bext=Bext(time_reference=start + at), ixml=ixml) as writer:
            writer.write(sound)
    (folder / "wearers.csv").write_text("track,character,card\nAne,Ane,card-ane\nIvo,Ivo,card-ivo\n", "utf-8")
    return folder
