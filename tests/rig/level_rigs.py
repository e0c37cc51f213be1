"""Rigs for tests of levels: a voice at a microphone, into a recorder by cable or by radio, and what listeners wear."""

from __future__ import annotations

import functools

from small_rigs import kit_of, part_of

from rollsound.rig.building import build
from rollsound.rig.built import Rig
from rollsound.rig.levels import PathLevels
from rollsound.rig.levels_everywhere import Levels
from rollsound.rig.reaching import Reaching

KIT = """
items:
  - {id: boom, name: Boom, count: 2, model: k-mic}
  - {id: digital, name: Digital boom, count: 1, model: k-digital}
  - {id: pack, name: Pack, model: k-pack}
  - {id: receiver, name: Receiver, model: k-receiver}
  - {id: recorder, name: Recorder, model: k-recorder}
  - {id: phones, name: Headphones, count: 2, model: k-phones}
  - {id: speaker, name: Loudspeaker, model: k-speaker}
kinds:
  - id: k-mic
    name: Microphone
    category: microphone
    core: analogue
    ports:
      - {id: capsule, direction: in, medium: air, sensitivity: 20 mV/Pa, clip_spl: 130 dB SPL, self_noise: 13 dBA}
      - {id: out, direction: out, medium: analogue}
    passes: [{from: capsule, to: out}]
  - id: k-digital
    name: Digital microphone
    category: microphone
    core: digital
    ports:
      - {id: capsule, direction: in, medium: air, full_scale_spl: 130 dB SPL, self_noise: 14 dBA}
      - {id: out, direction: out, medium: digital mic, microphone_mode: mode 2, bits: 24}
    passes: [{from: capsule, to: out}]
  - id: k-pack
    name: Pack
    category: transmitter
    core: digital
    ports:
      - {id: mic-in, direction: in, medium: analogue, gain: 0-40 dB, clip: +6 dBu, full_scale: +6 dBu, noise: -120 dBu}
      - {id: air, direction: out, medium: radio, latency: 1.5 ms}
    passes: [{from: mic-in, to: air}]
  - id: k-receiver
    name: Receiver
    category: receiver
    core: digital
    ports:
      - {id: air, direction: in, medium: radio, latency: 1.5 ms}
      - {id: out, direction: out, medium: analogue, clip: +18 dBu, full_scale: +18 dBu, noise: -90 dBu}
    passes: [{from: air, to: out}]
  - id: k-recorder
    name: Recorder
    category: recorder
    core: digital
    tracks: 8
    ports:
      - {id: mic-in, direction: in, medium: analogue, channels: 4, gain: 0-80 dB, full_scale: +24 dBu, noise: -128 dBu}
      - {id: line-in, direction: in, medium: analogue, gain: -20 to 20 dB, clip: +24 dBu, full_scale: +20 dBu,
         noise: -95 dBu}
      - {id: digital-mic, direction: in, medium: digital mic, gain: 0-60 dB, bits: 24}
      - {id: line-out, direction: out, medium: analogue, channels: 2, clip: +20 dBu, full_scale: +20 dBu}
      - {id: phones, direction: out, medium: analogue, channels: 2, clip: +18 dBu, full_scale: +18 dBu,
         impedance_ohm: 10}
  - id: k-phones
    name: Headphones
    category: headphones
    core: analogue
    ports:
      - {id: in, direction: in, medium: analogue, channels: 2, sensitivity_db_mw: 100 dB, impedance_ohm: 32}
      - {id: ears, direction: out, medium: air, channels: 2, sensitivity_db_mw: 100 dB, impedance_ohm: 32}
    passes: [{from: in 1-2, to: ears 1-2}]
  - id: k-speaker
    name: Loudspeaker
    category: talkback
    core: analogue
    ports:
      - {id: line-in, direction: in, medium: analogue, clip: +20 dBu}
      - {id: sound, direction: out, medium: air}
    passes: [{from: line-in, to: sound}]
"""
RIG = """
pieces:
  - {id: boom, gains: {}}
  - {id: digital}
  - {id: recorder, gains: {mic-in 1: 65.32 dB, digital-mic: 0 dB}}
links:
  - {id: cable, from: "boom:out", to: "recorder:mic-in 1"}
  - {id: digital-cable, from: "digital:out", to: "recorder:digital-mic"}
routes:
  - {id: iso, piece: recorder, from: mic-in 1, to: track 1}
  - {id: digital-iso, piece: recorder, from: digital-mic, to: track 2}
sources:
  - {id: voice, name: Bram, at: "boom:capsule", effort: normal, distance: 60 cm}
  - {id: tone, name: Tone, kind: tone, at: "digital:capsule", level: 94 dB SPL, distance: 1 m}
tracks:
  - {id: t1, number: 1, name: Bram, source: voice}
  - {id: t2, number: 2, name: Tone, source: tone}
"""


_kit = functools.cache(kit_of)
_part = functools.cache(part_of)


def level_rig(text: str = RIG, kit: str = KIT) -> Rig:
    """A rig of these texts, without a mistake."""
    rig = build(_part(text), _kit(kit))
    assert rig.wrong == ()
    return rig


RADIO = """
pieces:
  - {id: boom}
  - {id: pack, gains: {mic-in: 10 dB}}
  - {id: receiver}
  - {id: recorder, gains: {line-in: -6 dB}}
links:
  - {id: mic, from: "boom:out", to: "pack:mic-in"}
  - {id: air, from: "pack:air", to: "receiver:air"}
  - {id: line, from: "receiver:out", to: "recorder:line-in", loss: 2 dB}
routes:
  - {id: iso, piece: recorder, from: line-in, to: track 1, gain: 1 dB}
sources:
  - {id: voice, name: Bram, at: "boom:capsule", effort: very loud, quiet: normal, distance: 1 m}
tracks:
  - {id: t1, number: 1, name: Bram, source: voice}
"""
EARS = """
pieces:
  - {id: boom}
  - {id: boom-2, item: boom}
  - {id: recorder, gains: {mic-in 1-2: 40 dB}}
  - {id: phones}
  - {id: phones-2, item: phones}
links:
  - {id: cable, from: "boom:out", to: "recorder:mic-in 1"}
  - {id: cable-2, from: "boom-2:out", to: "recorder:mic-in 2"}
  - {id: ear, from: "recorder:phones 1", to: "phones:in 1"}
  - {id: ear-2, from: "recorder:phones 2", to: "phones-2:in 1"}
routes:
  - {id: iso, piece: recorder, from: mic-in 1-2, to: track 1-2}
  - {id: to-bram, piece: recorder, from: mic-in 1, to: phones 1, gain: -20 dB}
  - {id: to-idris, piece: recorder, from: mic-in 2, to: phones 2, gain: -20 dB}
sources:
  - {id: voice, name: Bram, at: "boom:capsule", effort: very loud, quiet: normal, distance: 1 m}
  - {id: voice-2, name: Idris, at: "boom-2:capsule", effort: very loud, quiet: normal, distance: 1 m}
tracks:
  - {id: t1, number: 1, name: Bram, source: voice}
  - {id: t2, number: 2, name: Idris, source: voice-2}
feeds:
  - {id: bram, listener: Director, at: "phones:ears 1", sources: [voice]}
  - {id: idris, listener: Script supervisor, at: "phones-2:ears 1", sources: [voice-2]}
"""


def along(rig: Rig, source: str = "voice", target: str = "track:t1") -> PathLevels:
    """The one path of a source in the one combination."""
    (case,) = Levels(Reaching(rig)).cases(source, target)
    (path,) = case.paths
    return path
