"""The day as it happened. For now: two small sheets, of takes and of who wore what, as CSV."""

from rollsound.log.sheet import TAKE_KINDS, TakeRow, WearerRow, read_takes, read_wearers

__all__ = ["TAKE_KINDS", "TakeRow", "WearerRow", "read_takes", "read_wearers"]
