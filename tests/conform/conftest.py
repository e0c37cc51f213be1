"""Lets the tests of conforming import the material that lies beside them (``signals``, ``takes``) by one name each.

One name matters: compiled loops are kept on disk under the name of the module they came from.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
