"""Control links, networks and Bluetooth on 2.4 and 5 GHz: where they lie, which overlap, and radar on 5 GHz."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import notes_of
from rollsound.radio.model import ControlLink

Kind: TypeAlias = Literal["wi-fi", "802.15.4", "bluetooth low energy"]
_ADVERTISING = {37: 2402.0, 38: 2426.0, 39: 2480.0}


@dataclass(frozen=True)
class Signal:
    """Where a link sends."""

    id: str
    name: str
    kind: Kind
    channel: int
    centre_mhz: float
    width_mhz: float

    @property
    def low_mhz(self) -> float:
        """Lower edge."""
        return self.centre_mhz - self.width_mhz / 2

    @property
    def high_mhz(self) -> float:
        """Upper edge."""
        return self.centre_mhz + self.width_mhz / 2


@dataclass(frozen=True)
class Said:
    """One thing to know of links: which, what and what to do."""

    kind: Literal["overlap", "radar", "near"]
    ids: tuple[str, ...]
    sentence: str
    source: str


def wifi_mhz(channel: int) -> float:
    """Middle of a Wi-Fi channel of 20 MHz: 1 to 14 on 2.4 GHz, 32 to 177 on 5 GHz.

    Raises
    ------
    InputError
        when there is no such channel
    """
    if channel == 14:
        return 2484.0
    if 1 <= channel <= 13:
        return 2407.0 + 5 * channel
    if 32 <= channel <= 177:
        return 5000.0 + 5 * channel
    raise InputError(f"there is no Wi-Fi channel {channel}; write 1 to 14 for 2.4 GHz, or 32 to 177 for 5 GHz")


def mesh_mhz(channel: int) -> float:
    """Middle of an 802.15.4 channel, 11 to 26.

    Raises
    ------
    InputError
        when there is no such channel
    """
    if not 11 <= channel <= 26:
        raise InputError(f"there is no 802.15.4 channel {channel} on 2.4 GHz; write 11 to 26")
    return 2405.0 + 5 * (channel - 11)


def bluetooth_mhz(index: int) -> float:
    """Middle of a Bluetooth low energy frequency by its place from below, 0 to 39: 2402 + 2r MHz.

    Raises
    ------
    InputError
        when there is no such place
    """
    if not 0 <= index <= 39:
        raise InputError(f"Bluetooth low energy has no frequency {index}; write 0 to 39")
    return 2402.0 + 2 * index


def bluetooth_channel_mhz(channel: int) -> float:
    """Middle of a Bluetooth low energy channel by its number: 37 to 39 advertise, 0 to 36 carry data between them.

    Raises
    ------
    InputError
        when there is no such channel
    """
    if channel in _ADVERTISING:
        return _ADVERTISING[channel]
    if not 0 <= channel <= 36:
        raise InputError(f"Bluetooth low energy has no channel {channel}; write 0 to 39")
    return 2404.0 + 2 * channel if channel <= 10 else 2406.0 + 2 * channel


def signal(link: ControlLink) -> Signal:
    """Where a link of the plan sends.

    Raises
    ------
    InputError
        when it names a channel that is not there
    """
    row = table("radio_control")[link.kind]
    width = float(link.width_mhz or row["width_mhz"])
    middle = {"wi-fi": wifi_mhz, "802.15.4": mesh_mhz, "bluetooth low energy": bluetooth_channel_mhz}[link.kind]
    centre = middle(link.channel)
    if link.kind == "wi-fi" and width > 20 and link.channel >= 32:
        centre = _bonded_mhz(link.channel, width)
    return Signal(link.id, link.name or link.id, link.kind, link.channel, centre, width)


def _bonded_mhz(channel: int, width_mhz: float) -> float:
    """Middle of the wide channel that a 20 MHz channel of 5 GHz belongs to, or that is named by its own middle."""
    begins = 36 if channel <= 64 else 100 if channel <= 144 else 149
    wide = round(width_mhz / 5)
    number = (channel - begins + 2) // wide
    return 5000.0 + 5 * (begins - 2 + number * wide + wide / 2)


def conflict(first: Signal, second: Signal, guard_mhz: float = 0.0) -> bool:
    """Whether two lie over each other: |f1 − f2| < (B1 + B2)/2 + guard."""
    return abs(first.centre_mhz - second.centre_mhz) < (first.width_mhz + second.width_mhz) / 2 + guard_mhz


def mesh_hit(wifi_channel: int) -> tuple[int, ...]:
    """The 802.15.4 channels inside a Wi-Fi channel of 2.4 GHz (rule of thumb: less than 11 MHz from its middle)."""
    rule = table("radio_control")["about"]["rule_mhz"]
    return tuple(c for c in range(11, 27) if abs(mesh_mhz(c) - wifi_mhz(wifi_channel)) < rule)


def mesh_free(wifi_channels: Sequence[int]) -> tuple[int, ...]:
    """The 802.15.4 channels that none of these Wi-Fi channels hits."""
    hit = {c for channel in wifi_channels for c in mesh_hit(channel)}
    return tuple(c for c in range(11, 27) if c not in hit)


def bluetooth_hit(wifi_channel: int) -> tuple[int, ...]:
    """The Bluetooth low energy frequencies, 0 to 39 from below, within 11 MHz of a Wi-Fi channel's middle or at it."""
    rule = table("radio_control")["about"]["rule_mhz"]
    return tuple(r for r in range(40) if abs(bluetooth_mhz(r) - wifi_mhz(wifi_channel)) <= rule)


def needs_radar_check(signal: Signal) -> bool:
    """Whether a network must listen for radar there, and leave when it hears one."""
    return any(
        signal.low_mhz < high and signal.high_mhz > low for low, high in table("radio_control")["radar"]["ranges_mhz"]
    )


def overlaps(links: Sequence[ControlLink]) -> list[Said]:
    """What control links and networks do to each other, and which may vanish for radar.

    Raises
    ------
    InputError
        when one names a channel that is not there
    """
    rows = table("radio_control")
    signals = [signal(link) for link in links]
    grounds = {link.id: link.ground for link in links}
    networks = [s.channel for s in signals if s.kind == "wi-fi" and s.centre_mhz < 3000]
    said = []
    for one, other in itertools.combinations(signals, 2):
        together = not grounds[one.id] or not grounds[other.id] or grounds[one.id] == grounds[other.id]
        if together and conflict(one, other, rows["about"]["guard_mhz"]):
            said.append(
                Said(
                    "overlap",
                    (one.id, other.id),
                    f"{_told(one)} and {_told(other)} lie over each other{_way_out(one, other, networks)}.",
                    "|f1 − f2| < (B1 + B2)/2; " + rows[one.kind]["source"],
                )
            )
    return said + [_radar(each) for each in signals if each.kind == "wi-fi" and needs_radar_check(each)]


def _way_out(one: Signal, other: Signal, networks: Sequence[int]) -> str:
    kinds = {one.kind, other.kind}
    if kinds == {"wi-fi"}:
        return "; on 2.4 GHz take 1, 6 and 11, or move one of them to 5 GHz" if one.centre_mhz < 3000 else "; move one"
    if kinds == {"wi-fi", "802.15.4"}:
        free = ", ".join(str(c) for c in mesh_free(networks))
        return f"; 802.15.4 channels clear of the networks: {free}" if free else "; move a network to 5 GHz"
    if kinds == {"wi-fi", "bluetooth low energy"}:
        return "; Bluetooth goes round it while there is room, so expect delays, and move the network to 5 GHz"
    return "; give one of them another channel"


def _radar(network: Signal) -> Said:
    row = table("radio_control")["radar"]
    low, high = row["weather_mhz"]
    weather = network.low_mhz < high and network.high_mhz > low
    wait = f"{row['weather_wait_s'] / 60:g} minutes (weather radar)" if weather else f"{row['wait_s'] / 60:g} minute"
    return Said(
        "radar",
        (network.id,),
        f"{_told(network)} must leave its channel when it hears radar, and then listens for {wait} before it sends "
        f"again; it stays away for {row['away_s'] / 60:g} minutes. It can vanish in a take: prefer 36 to 48 or 149 to "
        "165 for control.",
        row["source"],
    )


def near(link: ControlLink, antenna: str, distance_m: float) -> Said | None:
    """Advice when a network's antenna stands too near a receiving antenna; None when it is far enough away."""
    rows = table("radio_control")
    if distance_m >= rows["about"]["apart_m"]:
        return None
    return Said(
        "near",
        (link.id, antenna),
        f"{link.name or link.id} stands {distance_m:.1f} m from the antenna {antenna}; keep "
        f"{rows['about']['apart_m']:g} m or more between them, and scan before call time.",
        rows["about"]["apart_source"],
    )


def _told(signal: Signal) -> str:
    return f"{signal.name} (channel {signal.channel}, {signal.low_mhz:g} to {signal.high_mhz:g} MHz)"


def notes() -> tuple[str, ...]:
    """What nobody has verified."""
    return notes_of("radio_control")
