"""Levels along one path: at every stage how loud, how far under what clips, and how much noise.

A path becomes a chain of steps: what a step shifts the level by (a sensitivity, a converter's full scale, a route's
gain), the gain that is set there, what clips before and after that gain, and the noise that the stage adds. Levels
follow by running along the chain, so that a gain can be tried without the rig.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rollsound.kit.model import Port
from rollsound.rig.built import BuiltPiece, Rig, Spot, Way
from rollsound.rig.combining import Combination
from rollsound.rig.hearing import at_ear_db, into_load_db
from rollsound.rig.microphones import FLOAT_OVER_FULL_SCALE_DB, dbu_per_pascal, sine_range_db
from rollsound.rig.paths import Hop, Path
from rollsound.rig.speech import NotKnown, SourceLevel, Unit, at_distance_db
from rollsound.rig.volts import PASCAL_DB, full_scale_of, summed_db

_TRACK_BITS = 24
_FLOAT_BITS = 32


@dataclass(frozen=True)
class Step:
    """One stage of a chain, free of the rig. Limits and noises are in the stage's own unit; infinite where none."""

    spot: Spot
    unit: Unit
    shift_db: float
    """From the level after the stage before to the level before this one's gain."""
    gain_db: float = 0.0
    least_gain_db: float = 0.0
    most_gain_db: float = 0.0
    """Equal to the least where nothing can be set."""
    limit_before_db: float = math.inf
    limit_after_db: float = math.inf
    noise_before_db: float = -math.inf
    noise_after_db: float = -math.inf
    assumed: str = ""

    @property
    def settable(self) -> bool:
        """Whether there is a gain to set."""
        return self.most_gain_db > self.least_gain_db


@dataclass(frozen=True)
class Stage:
    """Levels at one stage of a path, after its gain."""

    spot: Spot
    unit: Unit
    gain_db: float
    settable: tuple[float, float] | None
    """Least and most gain that can be set here; none where there is nothing to set."""
    mean_db: float
    """Of the loudest expected."""
    peak_db: float
    quiet_db: float
    """Mean level of the quietest expected."""
    noise_db: float
    """Of the microphone and everything up to here; minus infinity where nothing is known to add any."""
    own_noise_db: float
    """What this stage alone adds."""
    limit_db: float
    """The peak that clips here, in the level after the gain; infinite where nothing is known to."""
    assumed: str = ""

    @property
    def headroom_db(self) -> float:
        """What is left over the loudest peaks; under nothing it clips."""
        return self.limit_db - self.peak_db

    @property
    def over_noise_db(self) -> float:
        """The quietest over the noise."""
        return self.quiet_db - self.noise_db


@dataclass(frozen=True)
class PathLevels:
    """A path with the level at every stage. Where the level is not known any further, ``unknown`` tells why."""

    path: Path
    level: SourceLevel | None
    steps: tuple[Step, ...]
    stages: tuple[Stage, ...]
    unknown: str = ""

    @property
    def known(self) -> bool:
        """Whether the level is known up to the end."""
        return not self.unknown

    @property
    def clips_at(self) -> int | None:
        """Place in ``stages`` of the first that clips."""
        return next((at for at, stage in enumerate(self.stages) if stage.headroom_db < 0.0), None)

    @property
    def end(self) -> Stage:
        """Where it arrives, or the last stage whose level is known."""
        return self.stages[-1]

    @property
    def added_noise_db(self) -> float:
        """By how much all later stages raise the noise of the first at the end of the path."""
        first = self.stages[0]
        carried = first.noise_db + self.end.quiet_db - first.quiet_db
        return self.end.noise_db - carried if carried > -math.inf else math.inf


def run(steps: Sequence[Step], level: SourceLevel, gains_db: Sequence[float] | None = None) -> tuple[Stage, ...]:
    """Run along a chain.

    Parameters
    ----------
    gains_db
        to try instead of the steps' own
    """
    mean, quiet, noise = level.loudest_db, level.quietest_db, -math.inf
    stages: list[Stage] = []
    for at, step in enumerate(steps):
        gain = step.gain_db if gains_db is None else gains_db[at]
        mean, quiet, noise = (each + step.shift_db + gain for each in (mean, quiet, noise))
        own = summed_db((step.noise_before_db + gain, step.noise_after_db))
        noise = summed_db((noise, own))
        stages.append(
            Stage(
                spot=step.spot,
                unit=step.unit,
                gain_db=gain,
                settable=(step.least_gain_db, step.most_gain_db) if step.settable else None,
                mean_db=mean,
                peak_db=mean + level.crest_db,
                quiet_db=quiet,
                noise_db=noise,
                own_noise_db=own,
                limit_db=min(step.limit_before_db + gain, step.limit_after_db),
                assumed=step.assumed,
            )
        )
    return tuple(stages)


def path_levels(rig: Rig, combination: Combination, path: Path, level: SourceLevel | NotKnown) -> PathLevels:
    """The level of a source at every stage of one of its paths, in one combination."""
    if isinstance(level, NotKnown):
        return PathLevels(path, None, (), (), level.why)
    chain = _Chain(rig, combination, level)
    chain.enter(path.start)
    for hop in path.hops:
        chain.follow(hop)
    return PathLevels(path, level, tuple(chain.steps), run(chain.steps, level), chain.unknown)


def unit_of(port: Port | None) -> Unit | None:
    """What levels at a port are told in; none where it carries no sound. A radio path is told by its full deviation."""
    if port is None:
        return "dBFS"
    if port.medium == "air":
        return "dB SPL"
    if port.medium == "analogue":
        return "dBu"
    return None if port.medium in ("antenna", "time code", "word clock", "control", "dc", "mains") else "dBFS"


class _Chain:
    def __init__(self, rig: Rig, combination: Combination, level: SourceLevel) -> None:
        self.rig, self.combination, self.level = rig, combination, level
        self.steps: list[Step] = []
        self.unknown = ""
        self._assumed = ""

    def enter(self, spot: Spot) -> None:
        port = self.rig.port_at(spot)
        unit = unit_of(port)
        if unit == self.level.unit:
            self._add(spot, port, 0.0)
        elif unit == "dBu" and self.level.unit == "dBFS":
            self._add(spot, port, self._full_scale(port))
        else:
            where = self.rig.spot_in_words(spot)
            self.unknown = (
                f"it is written in {self.level.unit}, and enters at {where} where levels are in {unit or 'none'}"
            )

    def follow(self, hop: Hop) -> None:
        if self.unknown:
            return
        port, before = self.rig.port_at(hop.end), self.rig.port_at(hop.start)
        set_db = self.rig.gain_at(hop.end, self.combination)
        shift = hop.gain_db - set_db
        if hop.way in (Way.ROUTE, Way.PASS):
            turned = self._through(self.rig.pieces[hop.end.piece], before, port)
        else:
            turned = self._across(hop, before, port)
        if isinstance(turned, NotKnown):
            self.unknown = f"{turned.why} at {self.rig.spot_in_words(hop.end)}"
            return
        self._add(hop.end, port, shift + turned)

    def _through(self, piece: BuiltPiece, before: Port | None, port: Port | None) -> float | NotKnown:
        """What a way inside a piece turns the level by: a sensitivity, a converter, an earpiece."""
        ends = unit_of(before), unit_of(port)
        if ends == ("dBFS", "dBFS"):
            return 0.0
        if ends == ("dBu", "dBFS"):
            return -self._full_scale(before, port)
        if ends == ("dBFS", "dBu"):
            return self._full_scale(port)
        if ends == ("dBu", "dBu"):
            return self._full_scale(port, before) - self._full_scale(before, port) if piece.digital else 0.0
        if ends[0] == "dB SPL" and before is not None:
            if before.full_scale_spl is not None:
                to_full_scale = -float(before.full_scale_spl)
                return to_full_scale if ends[1] == "dBFS" else to_full_scale + self._full_scale(port)
            if before.sensitivity_mv_pa:
                gives = dbu_per_pascal(float(before.sensitivity_mv_pa)) - PASCAL_DB
                return gives if ends[1] == "dBu" else gives - self._full_scale(before, port)
            return NotKnown("no sensitivity is written for the microphone")
        if ends[1] == "dB SPL" and port is not None:
            if ends[0] == "dBu" and port.sensitivity_db_mw is not None and port.impedance_ohm:
                return at_ear_db(0.0, float(port.sensitivity_db_mw), port.impedance_ohm)
            if ends[0] == "dBFS" and port.full_scale_spl is not None:
                return float(port.full_scale_spl)
            return NotKnown("no sensitivity is written for what sounds")
        return NotKnown("sound is not told by a level")

    def _across(self, hop: Hop, before: Port | None, port: Port | None) -> float | NotKnown:
        """What a link adds besides its own loss: distance in the air, and an amplifier's own resistance."""
        unit = unit_of(port)
        if unit is None:
            return NotKnown("sound is not told by a level")
        if unit == "dB SPL":
            link = self.rig.link_rows[hop.id]
            return at_distance_db(max(float(link.length_m), 0.02)) if link.length_m and not link.loss_db else 0.0
        drives = port is not None and port.sensitivity_db_mw is not None
        if drives and port is not None and port.impedance_ohm and before is not None and before.impedance_ohm:
            return into_load_db(before.impedance_ohm, port.impedance_ohm)
        return 0.0

    def _full_scale(self, *ports: Port | None) -> float:
        """Full scale of the first port that has one; where none has, what the plan's alignment level goes with."""
        for port in ports:
            if port is not None and port.full_scale_dbu is not None:
                return float(port.full_scale_dbu)
        taken = full_scale_of(self.rig.part.line_up_dbfs)
        self._assumed = f"full scale taken for {taken:+g} dBu, as goes with the alignment level"
        return taken

    def _add(self, spot: Spot, port: Port | None, shift_db: float) -> None:
        gain = self.rig.gain_at(spot, self.combination)
        low = high = gain
        if port is not None and port.gain_db is not None:
            low, high = float(port.gain_db.low), float(port.gain_db.high)
        before, after = _limits(port, spot, self.rig.pieces[spot.piece])
        noise_before, noise_after = _noises(port, spot)
        self.steps.append(
            Step(
                spot=spot,
                unit=unit_of(port) or "dBFS",
                shift_db=shift_db,
                gain_db=gain,
                least_gain_db=low,
                most_gain_db=high,
                limit_before_db=before,
                limit_after_db=after,
                noise_before_db=noise_before,
                noise_after_db=noise_after,
                assumed=self._assumed,
            )
        )
        self._assumed = ""


def _limits(port: Port | None, spot: Spot, piece: BuiltPiece) -> tuple[float, float]:
    """What clips before and after the gain of a port."""
    if port is None:
        return math.inf, 0.0
    if port.medium == "air":
        before = float(port.clip_spl) if port.clip_spl is not None else math.inf
        return before, float(port.full_scale_spl) if port.full_scale_spl is not None else math.inf
    if port.medium == "analogue":
        clip = float(port.clip_dbu) if port.clip_dbu is not None else math.inf
        full = float(port.full_scale_dbu) if port.full_scale_dbu is not None else math.inf
        if spot.side == "out":  # an output's gain comes before what drives the line
            return math.inf, min(clip, full) if piece.digital else clip
        return clip, min(clip, full)
    return math.inf, FLOAT_OVER_FULL_SCALE_DB if (port.bits or 0) >= _FLOAT_BITS else 0.0


def _noises(port: Port | None, spot: Spot) -> tuple[float, float]:
    """Noise that a port adds, before its gain and after it."""
    if port is None:
        return -math.inf, -sine_range_db(_TRACK_BITS)
    if port.medium == "air":
        own = float(port.noise_dba) if port.noise_dba is not None and spot.side == "in" else -math.inf
        return own, -math.inf
    if port.medium == "analogue":
        own = float(port.noise_dbu) if port.noise_dbu is not None else -math.inf
        return (own, -math.inf) if spot.side == "in" else (-math.inf, own)
    steps = -sine_range_db(port.bits) if port.bits is not None and port.bits < _FLOAT_BITS else -math.inf
    return -math.inf, summed_db((steps, float(port.noise_dbfs) if port.noise_dbfs is not None else -math.inf))
