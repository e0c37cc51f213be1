"""Day 4 as a table: three sites, nine recorder files, twelve cards, and everything that went wrong."""

from __future__ import annotations

from rollsound.demo.scenario import Block, Card, Damage, Day, Site, Take

_BLOCKS = (
    Block(
        Site.DECK,
        0.0,
        102.0,
        ("Bram", "Idris", "Runa", "Tomasz", "Anoush", "Okello", "Maelis", "Haru", "Plant ramp"),
    ),
    Block(Site.QUAY, 102.0, 196.0, ("Bram", "Runa", "Tomasz", "Okello", "Signy", "Leila", "Nkechi", "Haru")),
    Block(Site.BREAK, 196.0, 216.0),
    Block(Site.CHAPEL, 216.0, 326.0, ("Idris", "Runa", "Haru", "Signy", "Leila", "Nkechi", "Piano", "Fiddle")),
)

_TAKES = (
    Take("NF04_S214_T1", Site.DECK, "31", "214", "1", 8.0, 15.0, "false start", note="Reset at once, ramp not down"),
    Take("NF04_S214_T2", Site.DECK, "31", "214", "2", 33.013, 26.0, circled=True, note="Ramp comes down at the end"),
    Take("NF04_S215_T1", Site.DECK, "31", "215", "1", 69.207, 26.0, note="Runa shouts, Boom 2 by the lighting cable"),
    Take("NF04_WT1", Site.QUAY, "32", "", "WT1", 110.0, 16.0, "wild track", note="Ferry horn and ropes"),
    Take(
        "NF04_S216_T1", Site.QUAY, "32", "216", "1", 136.551, 26.0, circled=True, note="Long walk, radios at the edge"
    ),
    Take(
        "NF04_S216_T2",
        Site.QUAY,
        "32",
        "216",
        "2",
        172.08,
        18.0,
        lost_power=True,
        note="Recorder lost power near the end",
    ),
    Take(
        "NF04_S217_T1",
        Site.CHAPEL,
        "36",
        "217",
        "1",
        224.4,
        44.0,
        circled=True,
        sung=True,
        note="Sung to playback, two verses",
    ),
    Take("NF04_S218_T1", Site.CHAPEL, "36", "218", "1", 278.36, 18.0, mono_set=True, note="Recorded as a set of monos"),
    Take("NF04_RT1", Site.CHAPEL, "36", "", "RT1", 306.0, 16.0, "room tone", note="Chapel, full company, stove off"),
)

_CARDS = (
    Card("C01", "Bram", ((3.1, 81.4), (81.4, 192.3)), 3.7, jam_error_s=0.004, sheet_track="Bram"),
    Card("C02", "Idris", ((4.25, 99.2), (218.0, 325.5)), 12.4, jam_error_s=-0.007, sheet_track="Idris"),
    Card("C03", "Runa", ((2.6, 325.7),), -7.5, warm_up_ppm=2.0, jam_error_s=0.012, sheet_track="Runa"),
    Card("C04", "Tomasz", ((5.4, 193.0),), 21.9, has_timecode=False, sheet_track="Tomasz"),
    Card("C05", "Anoush", ((4.9, 99.8),), -14.2, finalised=False, jam_error_s=0.009, sheet_track="Anoush"),
    Card("C06", "Okello", ((3.9, 194.1),), -2.3, jam_error_s=-0.011, sheet_track="Maelis"),
    Card("C07", "Maelis", ((6.2, 100.3),), 8.8, jam_error_s=0.006, sheet_track="Okello"),
    Card("C08", "Haru", ((4.4, 325.2),), 17.3, jam_error_s=0.015, rejam_s=206.0, rejam_lost=11_760, sheet_track="Haru"),
    Card("C09", "Signy", ((104.6, 324.8),), 39.6, floating=True, jam_error_s=-0.003, sheet_track="Signy"),
    Card("C10", "Leila", ((105.1, 192.9), (217.4, 325.1)), -33.1, jam_error_s=0.018, sheet_track="Leila"),
    Card("C12", "Fiddle", ((217.0, 325.9),), -5.6, floating=True, jam_error_s=0.001, sheet_track="Fiddle"),
    Card("C13", "Bram", ((0.0, 40.0),), 3.7, sheet_track="", other_day=True),
)

_T2, _215, _216, _216B, _217, _218 = (
    "NF04_S214_T2",
    "NF04_S215_T1",
    "NF04_S216_T1",
    "NF04_S216_T2",
    "NF04_S217_T1",
    "NF04_S218_T1",
)
_DAMAGES = (
    Damage(_T2, "Bram", "dropout", 9.2, 0.14, -30.0),
    Damage(_T2, "Bram", "dropout", 14.6, 0.06, -26.0),
    Damage(_T2, "Idris", "mute", 7.15, 0.21),
    Damage(_T2, "Idris", "mute", 18.4, 0.06),
    Damage(_T2, "Maelis", "radio-hit", 12.3, 0.05, -16.0),
    Damage(_T2, "Haru", "click", 16.5, 0.0, -14.0),
    Damage(_T2, "Haru", "click", 20.75, 0.0, -20.0),
    Damage(_215, "Boom 1", "clip", 12.0, 1.6, 0.0),
    Damage(_215, "Boom 2", "hum", 0.0, 0.0, -52.0),
    Damage(_215, "Anoush", "mute", 10.05, 0.42),
    Damage(_215, "Tomasz", "radio-hit", 17.2, 0.03, -15.0),
    Damage(_215, "Tomasz", "radio-hit", 17.6, 0.09, -13.0),
    Damage(_216, "Bram", "dead"),
    Damage(_216, "Runa", "polarity"),
    Damage(_216, "Signy", "radio-hit", 8.3, 0.06, -14.0),
    Damage(_216, "Signy", "dropout", 13.1, 0.32, -34.0),
    Damage(_216, "Signy", "mute", 19.7, 0.11),
    Damage(_216, "Leila", "mute", 11.25, 0.09),
    Damage(_216, "Leila", "mute", 15.5, 0.30),
    Damage(_216, "Nkechi", "mute", 16.2, 0.18),
    Damage(_216, "Tomasz", "click", 14.4, 0.0, -12.0),
    Damage(_216B, "Haru", "mute", 6.4, 0.08),
    Damage(_217, "Runa", "mute", 21.3, 0.12),
    Damage(_217, "Runa", "radio-hit", 29.4, 0.05, -14.0),
    Damage(_217, "Fiddle", "dropout", 25.1, 0.18, -32.0),
    Damage(_218, "Leila", "mute", 8.7, 0.07),
)

DAY_FOUR = Day(
    project="Northbound Ferry",
    sound_roll="NF-04",
    date="2031-02-18",
    starts_at="12:38:00:00",
    blocks=_BLOCKS,
    takes=_TAKES,
    cards=_CARDS,
    damages=_DAMAGES,
    delays_ms=(
        ("Bram", 2.93),
        ("Idris", 3.11),
        ("Runa", 2.93),
        ("Tomasz", 3.04),
        ("Anoush", 2.93),
        ("Okello", 3.11),
        ("Maelis", 3.27),
        ("Haru", 2.98),
        ("Signy", 3.04),
        ("Leila", 3.27),
        ("Nkechi", 3.11),
        ("Piano", 2.98),
        ("Fiddle", 3.19),
        ("Plant ramp", 3.19),
    ),
)
