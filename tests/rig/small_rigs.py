"""A small rig for tests: two booms, one of them by cable or by radio, a stage receiver on the network, a recorder."""

from __future__ import annotations

import textwrap

from ruamel.yaml import YAML

from rollsound.kit.model import KitPart
from rollsound.rig.building import build
from rollsound.rig.built import Rig
from rollsound.rig.model import RigPart

KIT = """
items:
  - {id: boom-mic, name: Digital boom, count: 2, model: d-mic}
  - {id: plug, name: Plug-on, model: d-plug}
  - {id: pack, name: Body pack, count: 2, model: d-pack}
  - {id: receiver, name: Receiver, model: d-receiver}
  - {id: switch, name: Switch, count: 2, model: d-switch}
  - {id: recorder, name: Recorder, model: d-recorder}
  - {id: monitor, name: Headphone amplifier, model: d-monitor}
kinds:
  - id: d-mic
    name: Digital boom
    category: microphone
    core: digital
    clock: follows
    ports:
      - {id: capsule, direction: in, medium: air, latency: 0.5 ms, full_scale_spl: 130 dB SPL, self_noise: 14 dBA}
      - {id: out, direction: out, medium: digital mic, microphone_mode: mode 2}
    passes: [{from: capsule, to: out}]
  - id: d-plug
    name: Plug-on
    category: transmitter
    core: digital
    clock: own
    ports:
      - {id: mic, direction: in, medium: digital mic, gain: 0-40 dB}
      - {id: air, direction: out, medium: radio}
    passes: [{from: mic, to: air}]
  - id: d-pack
    name: Body pack
    category: transmitter
    core: digital
    clock: own
    ports:
      - {id: capsule, direction: in, medium: air, latency: 0.4 ms, gain: 0-40 dB}
      - {id: air, direction: out, medium: radio}
    passes: [{from: capsule, to: air}]
  - id: d-receiver
    name: Receiver
    category: receiver
    core: digital
    clock: either
    ports:
      - {id: air, direction: in, medium: radio, channels: 4, latency: 3 ms, lossy: true, resamples: true}
      - {id: net, direction: both, medium: network, channels: 4}
    passes: [{from: air 1-4, to: net 1-4}]
  - id: d-switch
    name: Switch
    category: network switch
    core: none
    clock: none
    ports:
      - {id: port-1, direction: both, medium: network}
      - {id: port-2, direction: both, medium: network}
      - {id: port-3, direction: both, medium: network}
  - id: d-recorder
    name: Recorder
    category: recorder
    core: digital
    clock: either
    tracks: 8
    latency: 0.5 ms
    ports:
      - {id: digital-mic, direction: in, medium: digital mic, channels: 2, gain: 0-40 dB}
      - {id: net, direction: both, medium: network, channels: 8}
      - {id: out, direction: out, medium: analogue, channels: 2, latency: 0.6 ms, full_scale: 18 dBu}
  - id: d-monitor
    name: Headphone amplifier
    category: monitoring
    core: analogue
    ports:
      - {id: in, direction: in, medium: analogue}
      - {id: phones, direction: out, medium: air}
    passes: [{from: in, to: phones}]
"""
RIG = """
pieces:
  - {id: boom-1, item: boom-mic}
  - {id: boom-2, item: boom-mic}
  - {id: plug}
  - {id: pack-1, item: pack}
  - {id: pack-2, item: pack}
  - {id: receiver, clock: net}
  - {id: switch-set, item: switch}
  - {id: switch-cart, item: switch}
  - {id: recorder}
  - {id: monitor}
links:
  - {id: boom-1-cable, from: "boom-1:out", to: "recorder:digital-mic 1", length: 30 m}
  - {id: boom-1-plug, from: "boom-1:out", to: "plug:mic"}
  - {id: boom-1-air, from: "plug:air", to: "receiver:air 3"}
  - {id: boom-2-cable, from: "boom-2:out", to: "recorder:digital-mic 2", length: 25 m}
  - {id: pack-1-air, from: "pack-1:air", to: "receiver:air 1"}
  - {id: pack-2-air, from: "pack-2:air", to: "receiver:air 2"}
  - {id: net-receiver, from: "receiver:net", to: "switch-set:port-1"}
  - {id: net-long, from: "switch-set:port-2", to: "switch-cart:port-1", length: 75 m}
  - {id: net-recorder, from: "switch-cart:port-2", to: "recorder:net"}
  - {id: phones, from: "recorder:out 1", to: "monitor:in"}
streams:
  - {id: packs, from: "receiver:net 1-3", to: "recorder:net 1-3"}
routes:
  - {id: boom-1-iso, piece: recorder, from: digital-mic 1, to: track 1, fader: "1"}
  - {id: boom-1-radio-iso, piece: recorder, from: net 3, to: track 1, fader: "1"}
  - {id: boom-2-iso, piece: recorder, from: digital-mic 2, to: track 2, fader: "2"}
  - {id: packs-iso, piece: recorder, from: net 1-2, to: track 3-4}
  - {id: mix-boom, piece: recorder, from: digital-mic 1-2, to: out 1}
  - {id: mix-net, piece: recorder, from: net 1-3, to: out 1}
sources:
  - {id: voice-boom-1, at: "boom-1:capsule", character: Bram}
  - {id: voice-boom-2, at: "boom-2:capsule"}
  - {id: bram, at: "pack-1:capsule", character: Bram}
  - {id: idris, at: "pack-2:capsule", character: Idris}
tracks:
  - {id: t1, number: 1, name: Boom 1, source: voice-boom-1}
  - {id: t2, number: 2, name: Boom 2, source: voice-boom-2}
  - {id: t3, number: 3, name: Bram, source: bram}
  - {id: t4, number: 4, name: Idris, source: idris}
feeds:
  - {id: mixer, listener: Mixer, at: "monitor:phones", sources: [voice-boom-1, bram, idris]}
changeovers:
  - id: boom-1
    name: Boom 1
    positions:
      - {id: cable, name: cable, links: [boom-1-cable], gains: {"recorder:digital-mic 1": 20 dB}}
      - {id: radio, name: radio, links: [boom-1-plug, boom-1-air], gains: {"plug:mic": 20 dB}}
"""


def kit_of(text: str = KIT) -> KitPart:
    """The kit part of a YAML text."""
    return KitPart.model_validate(YAML(typ="safe").load(textwrap.dedent(text)))


def part_of(text: str = RIG) -> RigPart:
    """The rig part of a YAML text."""
    return RigPart.model_validate(YAML(typ="safe").load(textwrap.dedent(text)))


def small_rig(text: str = RIG, kit: str = KIT) -> Rig:
    """The small rig put together."""
    return build(part_of(text), kit_of(kit))
