"""What a survey of a site answers, as documented JSON."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Figure, Finding, Weight, heaviest


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class SurveyFile(_Result):
    """One recording: what it is, and what it told."""

    path: str
    kind: str = Field(default="", description="noise, clap, sweep or tone")
    guessed: bool = Field(default=False, description="whether its kind was told from its sound")
    track: int = Field(default=0, description="which track was measured, from 1")
    sample_rate_hz: int = 0
    seconds: float = 0.0
    recorded: str = Field(default="", description="when, as the file tells")
    told: str = Field(default="", description="one sentence on what it gave")
    problem: str = Field(default="", description="why it could not be used; empty when it could")


class OctaveRow(_Result):
    """The mean level in one octave."""

    octave: str
    level_db: Figure = Field(description="in dB SPL; relative to full scale when nothing was calibrated")


class ToneRow(_Result):
    """A tone that stays."""

    freq_hz: float
    level_db: float = Field(description="in dB SPL; relative to full scale when nothing was calibrated")
    over_db: float = Field(description="over the noise of its critical band")
    audible_db: float = Field(description="over what that noise hides")
    what: str = Field(default="", description="the family of hum it belongs to; empty for none")


class NoiseTold(_Result):
    """The noise of the place. Without a calibration levels are relative to full scale, and there are no ratings."""

    seconds: float
    calibrated: bool
    laeq_db: float
    la10_db: Figure
    la50_db: Figure
    la90_db: Figure
    highest_db: Figure = Field(description="the highest Fast A-weighted level")
    octaves: tuple[OctaveRow, ...]
    nc: str = ""
    nr: str = ""
    speech_interference_db: Figure = Field(description="mean of the octaves 500 Hz to 4 kHz")
    tones: tuple[ToneRow, ...] = ()
    clipped_samples: int = 0


class DecayRow(_Result):
    """Reverberation in one octave."""

    octave: str
    edt_s: Figure
    t20_s: Figure
    t30_s: Figure
    holds: str = Field(description="the figure that may be used: T30, T20, or empty")
    t_s: Figure = Field(description="the one that holds")
    range_db: float
    curvature_percent: Figure
    nonlinearity_permille: Figure
    impulses: int
    spread_s: Figure = Field(description="standard deviation of T20 over the bursts")
    why: str = Field(default="", description="what speaks against T30, or against both")


class SpeechRow(_Result):
    """A voice at a microphone in this place."""

    what: str = Field(default="", description="whose microphone it is, where the plan tells")
    distance_m: float
    effort: str
    speech_dba: float
    speech_to_noise_db: float | None = None
    direct_to_reverberant_db: float | None = None
    intelligibility: str = Field(default="", description="by ISO 9921, for a listener; empty when octaves are missing")
    serves: bool | None = None


class BoomRow(_Result):
    """How far a boom may be for one vocal effort."""

    effort: str
    farthest_m: float | None = None
    limited_by: str = ""


class HoursRow(_Result):
    """Noisy hours that fall into a day's work."""

    day: str
    what: str
    from_time: str
    to_time: str
    minutes: int


class SurveySaved(_Result):
    """Where the sound of a site was saved."""

    path: str
    sentence: str
    revision: int | None = Field(default=None, description="of the show's plan; null for a file")


class PlaceSurvey(_Result):
    """What a technical visit told about the sound of a site."""

    path: str
    name: str
    site: str
    site_name: str
    files: tuple[SurveyFile, ...] = ()
    calibration: str = Field(default="", description="how levels were tied to sound pressure; empty for none")
    noise: NoiseTold | None = None
    reverberation: tuple[DecayRow, ...] = ()
    t_s: float | None = Field(default=None, description="mean of what holds at 500 Hz and 1 kHz")
    judged_laeq_dba: float | None = Field(default=None, description="the level that is judged: measured now, or kept")
    judged_nc: str = ""
    judged_t_s: float | None = Field(default=None, description="the reverberation time that is judged")
    critical_distance_m: float | None = None
    boom_m: float = Field(description="the distance planned, or the usual one")
    boom_planned: bool = False
    criterion: str = Field(default="", description="what is asked of a voice, in words")
    criterion_source: str = ""
    speech: tuple[SpeechRow, ...] = ()
    booms: tuple[BoomRow, ...] = ()
    hours: tuple[HoursRow, ...] = ()
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()
    table_notes: tuple[str, ...] = Field(
        default=(), description="where the sources of the tables are at odds, and what nobody has verified"
    )
    cautions: tuple[str, ...] = ()
    chart_file: str = ""
    saved: SurveySaved | None = None

    @property
    def weight(self) -> Weight:
        """The worst weight found."""
        return heaviest(self.findings)

    @property
    def problems(self) -> tuple[str, ...]:
        """Files that could not be used."""
        return tuple(file.problem for file in self.files if file.problem)
