"""What is true of the synthesised day. Written beside it for tests and demonstrations; the tools never read it."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True)


class TruePiece(_Frozen):
    """Take samples ``start`` to ``stop`` (not included) lie in ``card_file`` at ``offset_samples + (1 + rate) n``."""

    card_file: str
    start: int
    stop: int
    offset_samples: float
    rate_ppm: float


class TrueSpan(_Frozen):
    """Something wrong on a track: samples of the take."""

    kind: str
    start_sample: int
    length_samples: int
    level_dbfs: float = 0.0


class TrueTrack(_Frozen):
    """One track of one take.

    Sample n of the track lies at card position ``offset_samples + (1 + rate_ppm 1e-6) n``. The fixed delay of the radio
    path, ``path_delay_samples``, is inside ``offset_samples``: this is where the radio track's sound is on the card.
    Where the sound at the microphone was at the take's sample n is ``path_delay_samples`` later on the card.
    ``rate_ppm`` is the straight line through a warm-up curve; ``knots`` then hold the curve as (take sample, position).
    ``card`` is the card that really heard the track, ``sheet_card`` what the wearers sheet says.
    """

    index: int
    name: str
    wearer: str = ""
    card: str = ""
    sheet_card: str = ""
    card_file: str = ""
    offset_samples: float | None = None
    rate_ppm: float | None = None
    path_delay_samples: float = 0.0
    knots: tuple[tuple[int, float], ...] = ()
    pieces: tuple[TruePiece, ...] = ()
    expected: tuple[str, ...] = Field(description="every outcome that is right for this track")
    polarity: int = 1
    spans: tuple[TrueSpan, ...] = ()


class TrueTake(_Frozen):
    """One take: its files in the recorder folder, and its tracks."""

    name: str
    files: tuple[str, ...]
    site: str
    scene: str
    slate: str
    take: str
    kind: str
    start_samples: int
    frames: int
    finalised: bool
    tracks: tuple[TrueTrack, ...]
    playback_timecode: str = ""
    playback_starts_at_sample: int = 0


class TrueCard(_Frozen):
    """One card: its files, and what is the matter with it."""

    name: str
    wearer: str
    sheet_track: str
    files: tuple[str, ...]
    rate_ppm: float
    warm_up_ppm: float
    warm_up_tau_s: float
    stamp_error_samples: float
    has_timecode: bool
    finalised: bool
    other_day: bool
    step_at_day_sample: int | None
    step_samples: int
    floating: bool


class ExpectedFinding(_Frozen):
    """Something inspecting the recorder folder should find: in which file, on which track (0 = the file)."""

    file: str
    track: int
    track_name: str
    kind: str
    start_sample: int = 0
    length_samples: int = 0


class Truth(_Frozen):
    """The whole day."""

    notice: str
    project: str
    seed: int
    sample_rate_hz: int
    frame_rate: str
    day_starts_at_samples: int
    takes: tuple[TrueTake, ...]
    cards: tuple[TrueCard, ...]
    findings: tuple[ExpectedFinding, ...]

    def take(self, name: str) -> TrueTake:
        """The take of a name."""
        return next(take for take in self.takes if take.name == name)

    def track(self, take: str, name: str) -> TrueTrack:
        """A track of a take, by their names."""
        return next(track for track in self.take(take).tracks if track.name == name)
