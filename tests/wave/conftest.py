"""Shared by the tests of audio files: a format for every purpose, sound to put in, and the corpus by name."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from numpy.typing import NDArray

CORPUS = Path(__file__).parent.parent / "corpus"


def _load() -> ModuleType:
    spec = importlib.util.spec_from_file_location("corpus_generate", CORPUS / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def corpus() -> ModuleType:
    """The generator of the broken files."""
    return _load()


@pytest.fixture
def noise() -> NDArray[np.float32]:
    """A minute fraction of noise, 4001 frames of 128 channels; take as many as needed."""
    return np.random.default_rng(20260203).uniform(-1, 1, (4001, 128)).astype(np.float32)
