"""Playback: tempo maps, which part of a song each take covers, and how the live voice lies against its guide."""
