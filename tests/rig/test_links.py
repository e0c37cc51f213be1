"""Arithmetic of links against published figures."""

from __future__ import annotations

import pytest

from rollsound.rig import links
from rollsound.rig.paths import CABLE_S_M

NOTE = "Power and links note, section 3"


@pytest.mark.source("IEC 60958-4-4:2016, 3.1 and 5.1.2: 128 unit intervals in a frame, 64 bits", kind="published")
def test_aes3() -> None:
    rates = [44_100, 48_000, 96_000, 192_000]
    assert [links.aes3_bit_s(each) / 1e6 for each in rates] == [2.8224, 3.072, 6.144, 12.288]
    assert links.unit_interval_s(48_000) * 1e9 == pytest.approx(162.76, abs=0.005)
    assert links.unit_interval_s(48_000) * 0.025e9 == pytest.approx(4.069, abs=0.0005)


@pytest.mark.source(
    "AES42 by Handbook for Sound Engineers, p. 1474: 10 V, 250 mA, 5 V at the microphone", kind="published"
)
def test_digital_microphone_supply() -> None:
    loops = [links.longest_loop_ohm(each, 5, 0.25) for each in (10.0, 9.9, 9.5)]
    assert loops == pytest.approx([20.0, 19.6, 18.0])
    loop = links.microphone_loop_ohm(100, 96, 30)
    assert loop == pytest.approx(7.8)
    assert loop * 0.25 == pytest.approx(1.95)
    assert links.steering_bit_s(48_000) == 750
    assert links.steering_bit_s(192_000) == 750
    assert links.steering_bit_s(44_100) == 689.0625


@pytest.mark.source("AES10-2003 and 2008, abstracts: 32, 56 or 64 channels, 100 Mbit/s payload", kind="published")
def test_aes10() -> None:
    carried = [links.aes10_bit_s(*each) / 1e6 for each in ((56, 48_000), (64, 48_000), (32, 96_000))]
    assert carried == [86.016, 98.304, 98.304]
    assert links.aes10_fits(56, 54_000)
    assert links.aes10_bit_s(56, 54_000) / 1e6 == pytest.approx(96.768)
    assert not links.aes10_fits(64, 54_000)
    assert links.aes10_bit_s(64, 54_000) / 1e6 == pytest.approx(110.592)
    assert [links.aes10_channels(each) for each in (48_000, 96_000)] == [64, 32]


@pytest.mark.source("AES10 input and output timing: within 25 % and 5 % of a sample period", kind="published")
def test_aes10_timing() -> None:
    assert pytest.approx(5.208, abs=0.0005) == 0.25 / 48_000 * 1e6
    assert pytest.approx(1.042, abs=0.0005) == 0.05 / 48_000 * 1e6


@pytest.mark.source("AES67 payload with RTP 12, UDP 8, IPv4 20 and Ethernet 38 bytes around it", kind="published")
@pytest.mark.parametrize(
    ("channels", "rate_hz", "packet_s", "size", "mbit_s"),
    [
        (1, 48_000, 1e-3, 222, 1.776),
        (2, 48_000, 1e-3, 366, 2.928),
        (8, 48_000, 1e-3, 1230, 9.840),
        (10, 48_000, 1e-3, 1518, 12.144),
        (2, 48_000, 125e-6, 114, 7.296),
        (8, 48_000, 125e-6, 222, 14.208),
        (4, 96_000, 1e-3, 1230, 9.840),
    ],
)
def test_stream(channels: int, rate_hz: float, packet_s: float, size: int, mbit_s: float) -> None:
    assert links.packet_bytes(channels, rate_hz, packet_s) == size
    assert links.stream_bit_s(channels, rate_hz, packet_s) / 1e6 == pytest.approx(mbit_s)


@pytest.mark.source("AES67 arithmetic: 64 channels as eight streams", kind="published")
def test_sixty_four_channels_nearly_fill_fast_ethernet() -> None:
    assert 8 * links.stream_bit_s(8, 48_000, 1e-3) / 1e6 == pytest.approx(78.72)


@pytest.mark.source("open-source AVB endpoint documentation, bandwidth page: class A", kind="published")
def test_class_a() -> None:
    at_48 = [links.class_a_bit_s(each, 48_000) / 1e6 for each in (1, 2, 4, 8, 16, 32)]
    assert at_48 == pytest.approx([7.81, 7.81, 10.88, 17.02, 29.31, 53.89], abs=0.005)
    at_96 = [links.class_a_bit_s(each, 96_000) / 1e6 for each in (1, 2, 4, 8, 16)]
    assert at_96 == pytest.approx([10.88, 10.88, 17.02, 29.31, 53.89], abs=0.005)


@pytest.mark.source("IEEE 802.3: 1518 bytes and 8 of preamble", kind="published")
def test_a_frame_on_the_line() -> None:
    assert links.frame_s(1526, 1e9) * 1e6 == pytest.approx(12.208)
    assert links.frame_s(1526, 1e8) * 1e6 == pytest.approx(122.08)
    assert links.frame_s(1218, 1e9) * 1e6 == pytest.approx(9.744)
    assert links.frame_s(1218, 1e8) * 1e6 == pytest.approx(97.44)


@pytest.mark.source(
    "networking textbook, store-and-forward exercise: 5000 bit, 1 Gbit/s, 10 us a link: 30 and 60 us", kind="published"
)
def test_through_switches() -> None:
    assert links.through_switches_s(5000, 1e9, 10e-6, 1) * 1e6 == pytest.approx(30)
    assert links.through_switches_s(5000, 1e9, 10e-6, 3) * 1e6 == pytest.approx(60)


@pytest.mark.source("the same exercise prints 30.384 us for cut-through; it leaves the links out", kind="published")
def test_cut_through_counts_its_links() -> None:
    told = links.through_switches_s(5000, 1e9, 10e-6, 3, cut_bits=128) * 1e6
    assert told == pytest.approx(45.384)
    assert told != pytest.approx(30.384)


@pytest.mark.source("Digital Interface Handbook, ch. 6: clocks to 10 ppm", kind="published")
@pytest.mark.parametrize(
    ("ppm", "samples_s", "per_slip_s", "ms_12_h"),
    [(1, 0.048, 20.83, 43.2), (10, 0.48, 2.083, 432), (50, 2.4, 0.4167, 2160)],
)
def test_slips(ppm: float, samples_s: float, per_slip_s: float, ms_12_h: float) -> None:
    assert links.slip_samples_s(ppm) == pytest.approx(samples_s)
    assert links.seconds_per_slip(ppm) == pytest.approx(per_slip_s, rel=2e-4)
    assert links.slip_samples_s(ppm) * 12 * 3600 / 48_000 * 1e3 == pytest.approx(ms_12_h)


@pytest.mark.source("first-order low pass of source and cable, any electronics text", kind="published")
def test_analogue_line() -> None:
    corners = [
        links.line_corner_hz(*each) / 1e3 for each in ((150, 100e-12, 100), (150, 100e-12, 300), (200, 150e-12, 300))
    ]
    assert corners == pytest.approx([106.1, 35.4, 17.7], abs=0.05)


@pytest.mark.source("linear PCM, any text: tracks x rate x bytes", kind="published")
def test_what_recording_takes() -> None:
    assert links.file_bytes_s(10, 48_000, 3) / 1e6 == pytest.approx(1.44)
    assert links.file_bytes_s(10, 48_000, 3) * 3600 / 1e9 == pytest.approx(5.184)
    assert 2**32 / links.file_bytes_s(10, 48_000, 3) / 60 == pytest.approx(49.71, abs=0.005)
    assert 2**32 / links.file_bytes_s(10, 48_000, 4) / 60 == pytest.approx(37.28, abs=0.005)


@pytest.mark.source("about 75 m for audio over copper network, about 500 m done on AES10", kind="practice")
def test_what_the_trade_dares() -> None:
    assert links.limits()["network"].practice_m == 75
    assert links.limits()["aes10 fibre"].practice_m == 500
    assert links.longest_m("aes3", 48_000) == 100
    assert links.longest_m("aes3", 192_000) == 50
    assert links.longest_m("air", 48_000) is None


@pytest.mark.source("LAN wiring table: 5.38 ns/m at 100 MHz; computed for 100 m", kind="published")
def test_the_delay_of_cable() -> None:
    delay_us = CABLE_S_M * 100 * 1e6
    assert delay_us == pytest.approx(0.538)
