"""The delay of a whole chain, hop by hop, against a worked one."""

from __future__ import annotations

import pytest
from small_rigs import small_rig

from rollsound.rig.paths import Conversion, paths, track
from rollsound.rig.state import State

KIT = """
items:
  - {id: pack, name: Pack, model: c-pack}
  - {id: box, name: Stage box, model: c-box}
  - {id: switch, name: Switch, count: 3, model: c-switch}
  - {id: recorder, name: Recorder, model: c-recorder}
kinds:
  - id: c-pack
    name: Digital radio
    category: transmitter
    core: digital
    clock: own
    ports:
      - {id: capsule, direction: in, medium: air}
      - {id: air, direction: out, medium: radio}
    passes: [{from: capsule, to: air}]
  - id: c-box
    name: Stage box
    category: converter
    core: digital
    clock: either
    ports:
      - {id: mic-in, direction: in, medium: air, latency: 0.41666666666 ms}
      - {id: air, direction: in, medium: radio, latency: 3.41666666666 ms, resamples: true}
      - {id: net, direction: both, medium: network, channels: 8, packet_time: 1 ms}
    passes: [{from: mic-in, to: net 1-8}, {from: air, to: net 1-8}]
  - id: c-switch
    name: Switch
    category: network
    core: none
    ports:
      - {id: net-1, direction: both, medium: network}
      - {id: net-2, direction: both, medium: network}
  - id: c-recorder
    name: Recorder
    category: recorder
    core: digital
    clock: either
    tracks: 8
    latency: 1 ms
    ports:
      - {id: net, direction: both, medium: network, channels: 8, buffer: 1 ms}
      - {id: out, direction: out, medium: analogue, latency: 0.60416666667 ms}
"""
RIG = """
pieces:
  - {id: pack}
  - {id: box, clock: net}
  - {id: switch-1, item: switch}
  - {id: switch-2, item: switch}
  - {id: switch-3, item: switch}
  - {id: recorder}
links:
  - {id: radio, from: "pack:air", to: "box:air"}
  - {id: a, from: "box:net", to: "switch-1:net-1"}
  - {id: b, from: "switch-1:net-2", to: "switch-2:net-1"}
  - {id: c, from: "switch-2:net-2", to: "switch-3:net-1"}
  - {id: d, from: "switch-3:net-2", to: "recorder:net"}
streams:
  - {id: eight, from: "box:net 1-8", to: "recorder:net 1-8"}
routes:
  - {id: to-out, piece: recorder, from: net 1, to: out}
sources:
  - {id: voice, at: "box:mic-in"}
  - {id: worn, at: "pack:capsule"}
feeds:
  - {id: ears, listener: Ears, at: "recorder:out", sources: [voice]}
"""


@pytest.mark.source(
    "semiconductor data sheet, a broadcast router's manual and a thread on converters: 3.7 to 65 samples at 48 kHz",
    kind="published",
)
def test_samples_as_time() -> None:
    told = [samples / 48 for samples in (3.7, 12, 20, 29, 40, 65)]
    assert told == pytest.approx([0.077, 0.250, 0.417, 0.604, 0.833, 1.354], abs=0.0005)


@pytest.mark.source(
    "chain of published figures: A/D 20 samples, packet 1 ms, buffer 1 ms, three switches of 9.744 us, 48 samples of "
    "processing, D/A 29 samples: 4.050 ms; with a digital radio of 3 ms: 7.050 ms",
    kind="published",
)
def test_a_chain_over_three_switches() -> None:
    rig = small_rig(RIG, KIT)
    assert rig.wrong == ()
    (path,) = paths(State(rig, {}), "voice", "feed:ears").paths
    assert path.latency_s * 1e3 == pytest.approx(4.050, abs=0.0005)
    assert path.conversions == (Conversion.A_D, Conversion.D_A)
    (by_radio,) = paths(State(rig, {}), "worn", "feed:ears").paths
    assert by_radio.latency_s * 1e3 == pytest.approx(7.050, abs=0.0005)
    assert paths(State(rig, {}), "voice", track("t1")).paths == ()
