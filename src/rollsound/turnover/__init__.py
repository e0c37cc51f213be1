"""What leaves the truck: names, reports, manifest, folder."""

from rollsound.turnover.folder import TurnoverResult, build
from rollsound.turnover.gathering import take_of
from rollsound.turnover.model import DayMaterial, Rebuilt, Take, Track
from rollsound.turnover.verify import VerifyResult, verify_folder

__all__ = [
    "DayMaterial",
    "Rebuilt",
    "Take",
    "Track",
    "TurnoverResult",
    "VerifyResult",
    "build",
    "take_of",
    "verify_folder",
]
