"""Lets the tests of whole days import what those of the demo's parts listen with."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "demo"))
