"""Why the coarse search clips changes of log energy at one neper, and uses two rows: peak over the best peak elsewhere.

Prints the confidence for one mic through bad radios, and for unrelated talk, for several choices.
Run: ``python design/align_features.py``
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rollsound.conform.coarse import search
from rollsound.conform.envelope import Envelope

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "conform"))
import signals as s

HOP = 240


def rows(x: s.Audio, clip: float, both: bool) -> NDArray[np.float32]:
    """Features as in ``conform.envelope``, with another clip and with or without the treble row."""
    whole = x[: x.size // HOP * HOP].astype(np.float64)
    signals = (whole, np.diff(whole, prepend=0.0)) if both else (whole, whole)
    logs = [np.log(np.mean(v.reshape(-1, HOP) ** 2, axis=1) + 1e-12) for v in signals]
    changes = [np.clip(np.diff(v, prepend=v[0]) / clip, -1.0, 1.0) for v in logs]
    return np.round(np.stack(changes) * 127).astype(np.float32)


def confidence(card: s.Audio, radio: s.Audio, clip: float, both: bool) -> float:
    """Peak over the best peak elsewhere."""
    changes = rows(card, clip, both).astype(np.int8)
    envelope = Envelope(changes, np.zeros(changes.shape[1], np.uint8), HOP, 0, s.RATE)
    return search(envelope, rows(radio, clip, both)).confidence


def main() -> None:
    """Print the table."""
    pairs = {
        "20 dB": s.make_pair(60.0, 21),
        "0 dB": s.make_pair(60.0, 21, path=s.RadioPath(snr_db=0.0)),
        "mutes 20 %": s.make_pair(60.0, 21, path=s.RadioPath(muted=0.2)),
        "bursts 5 %": s.make_pair(60.0, 21, path=s.RadioPath(muted=0.0, bursts=0.05)),
    }
    pairs["unrelated"] = s.Pair(pairs["20 dB"].card, s.make_pair(60.0, 22).radio, pairs["20 dB"].truth)
    print(f"{'':22s}" + "".join(f"{name:>12s}" for name in pairs))
    for both in (False, True):
        for clip in (0.25, 1.0, 4.0, 1e3):
            name = f"{'two rows' if both else 'one row'}, clip {clip:g}"
            print(f"{name:22s}" + "".join(f"{confidence(p.card, p.radio, clip, both):12.2f}" for p in pairs.values()))


if __name__ == "__main__":
    main()
