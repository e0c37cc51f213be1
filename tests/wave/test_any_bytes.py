"""The contract of the reader: any bytes give an object or one of our errors."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from fuzz.wave_bytes import CORPUS, FORM, mutate, run, target
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

SEEDS = [path.read_bytes() for path in sorted(CORPUS.glob("*.wav"))]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=st.binary(max_size=400), known=st.booleans())
def test_any_bytes(raw: bytes, known: bool, tmp_path: Path) -> None:
    path = tmp_path / "in.wav"
    path.write_bytes(raw)
    target(path, tmp_path, assume=FORM if known else None)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(body=st.binary(max_size=400), name=st.sampled_from([b"RIFF", b"RF64", b"BW64"]), known=st.booleans())
def test_any_bytes_after_a_right_start(body: bytes, name: bytes, known: bool, tmp_path: Path) -> None:
    path = tmp_path / "in.wav"
    path.write_bytes(name + len(body).to_bytes(4, "little") + b"WAVE" + body)
    target(path, tmp_path, assume=FORM if known else None)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 1 << 32), which=st.integers(0, len(SEEDS) - 1), known=st.booleans())
def test_any_damage_to_the_corpus(seed: int, which: int, known: bool, tmp_path: Path) -> None:
    path = tmp_path / "in.wav"
    path.write_bytes(mutate(SEEDS[which], random.Random(seed), SEEDS))
    target(path, tmp_path, assume=FORM if known else None)


def test_the_contract_can_be_broken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def wrong(*_: object, **__: object) -> None:
        raise KeyError("not one of ours")

    monkeypatch.setattr("fuzz.wave_bytes.open_wave", wrong)
    with pytest.raises(KeyError):
        target(CORPUS / "sound.wav", tmp_path)


@pytest.mark.fuzz
def test_ten_minutes_of_damage() -> None:
    outcome = run(600.0, seed=20260203)
    assert outcome.runs > 1000
    assert outcome.read > 100
    assert outcome.refused > 100
    assert not outcome.broke, outcome.broke[0]
