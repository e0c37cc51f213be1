"""Made-up takes on disk for tests of mirror and mend: a recorder's file and the cards of its radio tracks."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rollsound.conform.model import ClockMap, Outcome, TrackAlignment
from rollsound.timecode import Rate
from rollsound.wave import AudioFormat, Bext, Cue, IXml, SampleFormat, WaveWriter

RATE = 48_000
START = 36_000 * RATE + 1234
PARENT_UID = "NBF000000000001"


@dataclass
class Card:
    """A card's sound and where take frame 0 lies in it."""

    audio: NDArray[np.floating]
    offset: float
    ppm: float = 0.0
    track: int = 0
    outcome: Outcome = Outcome.PLACED
    fields: dict[str, object] = field(default_factory=dict)


@dataclass
class Scene:
    """What was written: the take's files and one alignment for every card."""

    files: list[Path]
    alignments: list[TrackAlignment]
    frames: int


def write_take(
    folder: Path,
    tracks: NDArray[np.floating],
    *,
    sample_format: SampleFormat = SampleFormat.PCM24,
    mono: bool = False,
    stem: str = "NF12A-T3",
) -> list[Path]:
    """A poly file, or one mono file for each track, with bext, iXML, a cue point, texts and a chunk of its own kind."""
    folder.mkdir(parents=True, exist_ok=True)
    names = ["Boom", "Ilse", "Tomas", "Amina", "Mix"]
    groups = [[n] for n in range(tracks.shape[1])] if mono else [list(range(tracks.shape[1]))]
    paths = []
    for group in groups:
        path = folder / (f"{stem}_{group[0] + 1}.wav" if mono else f"{stem}.wav")
        form = AudioFormat(RATE, len(group), sample_format)
        bext = Bext(
            description="sSCENE=12A\r\nsTAKE=3\r\n",
            originator="Northbound Ferry",
            origination_date="2026-02-03",
            origination_time="10:00:00",
            time_reference=START,
            version=2,
            loudness_value_lufs=-23.0,
            coding_history="A=PCM,F=48000,W=24,M=multi,T=recorder\r\n",
        )
        ixml = IXml.build(
            scene="12A",
            take="3",
            file_uid=f"{PARENT_UID}{group[0]}",
            rate=Rate.parse("25"),
            audio=form,
            tracks=[names[n] for n in group],
            bext=bext,
        )
        with WaveWriter(
            path,
            form,
            bext=bext,
            ixml=ixml,
            cues=[Cue(1000, "slate")],
            info_list={"ICMT": "car deck"},
            extra_chunks=[("nbfx", b"of our own kind.")],
        ) as writer:
            writer.write(np.ascontiguousarray(tracks[:, group], np.float32))
        paths.append(path)
    return paths


def write_card(path: Path, audio: NDArray[np.floating], sample_format: SampleFormat = SampleFormat.FLOAT32) -> Path:
    """A card's mono file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with WaveWriter(path, AudioFormat(RATE, 1, sample_format)) as writer:
        writer.write(np.ascontiguousarray(audio, np.float32))
    return path


def scene(folder: Path, tracks: NDArray[np.floating], cards: list[Card], **kinds: object) -> Scene:
    """Write it all."""
    files = write_take(folder / "recorder", tracks, **kinds)  # type: ignore[arg-type]
    alignments = []
    for n, card in enumerate(cards):
        path = write_card(folder / "cards" / f"card{n}.wav", card.audio)
        clock = ClockMap.straight(card.offset, card.ppm, tracks.shape[0])
        values: dict[str, object] = {
            "confidence": 0.98,
            "offset_samples": card.offset,
            "rate_ppm": card.ppm,
            "residual_samples": 0.02,
            "uncertainty_samples": 0.01,
            "coherence": 0.95,
            **card.fields,
        }
        alignments.append(
            TrackAlignment(
                take="12A-3",
                track_index=card.track,
                track_name=f"Track {card.track + 1}",
                outcome=card.outcome,
                reason="" if card.outcome.usable else "the card hears another microphone",
                card_name=f"Card {n + 1}",
                card_path=str(path),
                map=clock,
                **values,  # type: ignore[arg-type]
            )
        )
    return Scene(files, alignments, tracks.shape[0])
