"""Arithmetic of links: how much goes through, how long it takes, what a supply leaves, when clocks slip."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

from rollsound.facts import table

RTP_UDP_IP_BYTES = 12 + 8 + 20
ETHERNET_BYTES = 14 + 4 + 8
"""Header, check sequence and preamble."""
GAP_BYTES = 12
"""That a line rests after a frame."""
AES10_PAYLOAD_BIT_S = 100e6
_AES10_SLOT_BITS = 32
_BYTES_24_BIT = 3


def aes3_bit_s(rate_hz: float) -> float:
    """Bit rate of AES3 with two channels: 64 bits a frame. Source: IEC 60958-4-4, framing."""
    return rate_hz * 64


def unit_interval_s(rate_hz: float) -> float:
    """One unit interval of AES3: 128 of them in a frame. Source: IEC 60958-4-4:2016, 3.1."""
    return 1 / (rate_hz * 128)


def aes10_bit_s(channels: int, rate_hz: float) -> float:
    """Payload of AES10: 32 bits a channel and sample. Source: AES10-2003, abstract."""
    return channels * rate_hz * _AES10_SLOT_BITS


def aes10_fits(channels: int, rate_hz: float) -> bool:
    """Whether channels at a rate, varispeed included, fit the line's 100 Mbit/s."""
    return aes10_bit_s(channels, rate_hz) <= AES10_PAYLOAD_BIT_S


def aes10_channels(rate_hz: float) -> int:
    """Channels of an AES10 link at a nominal rate: 64 up to 48 kHz, 32 up to 96 kHz, 16 above."""
    return 64 if rate_hz <= 48_000 else 32 if rate_hz <= 96_000 else 16


def frame_bytes(channels: int, rate_hz: float, packet_s: float) -> float:
    """Bytes of one packet of an AES67 stream of 24-bit samples, from its preamble to its end."""
    samples = round(packet_s * rate_hz)
    return channels * samples * _BYTES_24_BIT + RTP_UDP_IP_BYTES + ETHERNET_BYTES


def packet_bytes(channels: int, rate_hz: float, packet_s: float) -> float:
    """What one packet takes of the wire, bytes: its frame and the gap after it."""
    return frame_bytes(channels, rate_hz, packet_s) + GAP_BYTES


def stream_bit_s(channels: int, rate_hz: float, packet_s: float) -> float:
    """Bit rate on the wire of one AES67 stream."""
    return packet_bytes(channels, rate_hz, packet_s) * 8 / packet_s


def class_a_bit_s(channels: int, rate_hz: float) -> float:
    """Bit rate of an IEEE 1722 class A stream: 8000 packets/s, 4 bytes a sample, 74 around; mono goes as stereo."""
    return (max(channels, 2) * rate_hz / 8000 * 4 + 74) * 8 * 8000


def frame_s(frame_bytes: float, line_bit_s: float) -> float:
    """How long a frame takes on a line: what store-and-forward costs at each switch."""
    return frame_bytes * 8 / line_bit_s


def through_switches_s(
    frame_bits: float, line_bit_s: float, link_s: float, switches: int, cut_bits: float = 0.0
) -> float:
    """From the first bit sent to the last received, over links of ``link_s`` each.

    Parameters
    ----------
    cut_bits
        bits after which a switch begins to pass on; 0 for store-and-forward
    """
    at_switch_s = (cut_bits or frame_bits) / line_bit_s
    return frame_bits / line_bit_s + switches * at_switch_s + (switches + 1) * link_s


def slip_samples_s(error_ppm: float, rate_hz: float = 48_000.0) -> float:
    """Samples a second that two clocks come apart."""
    return rate_hz * error_ppm * 1e-6


def seconds_per_slip(error_ppm: float, rate_hz: float = 48_000.0) -> float:
    """Seconds until one sample is too many or too few: at 10 ppm and 48 kHz one in 2.083 s."""
    apart = slip_samples_s(error_ppm, rate_hz)
    return math.inf if apart == 0 else 1 / apart


def line_corner_hz(source_ohm: float, farad_m: float, length_m: float) -> float:
    """Where an analogue line is 3 dB down: 1 / (2π·R·C·L)."""
    return 1 / (2 * math.pi * source_ohm * farad_m * length_m)


def microphone_loop_ohm(length_m: float, core_ohm_km: float, shield_ohm_km: float) -> float:
    """Loop of a digital microphone's supply: both cores in parallel out, the shield back."""
    return (core_ohm_km / 2 + shield_ohm_km) * length_m / 1000


def longest_loop_ohm(supply_v: float, least_v: float, current_a: float) -> float:
    """The loop that still leaves ``least_v`` at the microphone."""
    return (supply_v - least_v) / current_a


def steering_bit_s(rate_hz: float) -> float:
    """Bit rate of AES42's steering: the frame rate over 64, 128 or 256, so that 48, 96 and 192 kHz give 750 bit/s."""
    return rate_hz / (64 * max(1, round(rate_hz / 48_000)))


def file_bytes_s(tracks: int, rate_hz: float, bytes_a_sample: int) -> float:
    """What recording takes, bytes a second."""
    return tracks * rate_hz * bytes_a_sample


@dataclass(frozen=True)
class Limit:
    """How far a medium goes."""

    longest_m: float
    practice_m: float | None
    source: str
    status: str


@functools.cache
def limits() -> dict[str, Limit]:
    """By medium, how far it goes; media without a row have no limit here."""
    return {
        row["id"]: Limit(float(row["longest_m"]), row.get("practice_m"), row["source"], row["status"])
        for row in table("rig_media")["medium"]
    }


def longest_m(medium: str, rate_hz: float) -> float | None:
    """The longest cable of a medium at a sample rate; none where none is known."""
    row = next((each for each in table("rig_media")["medium"] if each["id"] == medium), None)
    if row is None:
        return None
    fast = rate_hz > 96_000 and "longest_at_192_khz_m" in row
    return float(row["longest_at_192_khz_m"] if fast else row["longest_m"])
