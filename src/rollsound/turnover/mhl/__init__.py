"""The media hash list: a folder's history of digests, one manifest a generation, chained so that no link can change.

Written and read in the XML of the ASC Media Hash List, version 2.0. A folder ``ascmhl`` in the root of what is
managed holds the manifests (``0001_<folder>_<date>_<time>Z.mhl``) and ``ascmhl_chain.xml``, which names each manifest
with the C4 identifier of its bytes.

Source: ASC MHL Specification 1.0 (15 March 2022) and its XML schemas.
"""

from rollsound.turnover.mhl.model import CHAIN, FOLDER, IGNORED, SYSTEM_FILES, Entry, Generation, History, Record
from rollsound.turnover.mhl.reading import has_history, read_history
from rollsound.turnover.mhl.writing import write_generation

__all__ = [
    "CHAIN",
    "FOLDER",
    "IGNORED",
    "SYSTEM_FILES",
    "Entry",
    "Generation",
    "History",
    "Record",
    "has_history",
    "read_history",
    "write_generation",
]
