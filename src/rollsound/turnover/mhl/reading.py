"""Reading manifests and their chain, and refusing what was changed, lost or cut off."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from lxml import etree

from rollsound.errors import BrokenFileError, InputError, storage
from rollsound.turnover.hashing import ALGORITHMS, digest_of
from rollsound.turnover.mhl.model import CHAIN, FOLDER, Generation, History, Record, check_path
from rollsound.turnover.mhl.model import CHAIN_NAMESPACE as _CHAIN_NS
from rollsound.turnover.mhl.model import NAMESPACE as _NS

_NAME = re.compile(r"^(\d{4,})_.*\.mhl$", re.DOTALL)
_LARGEST_MANIFEST_BYTES = 1_000_000_000


def has_history(root: Path) -> bool:
    """Whether a folder holds manifests."""
    return (root / FOLDER).is_dir()


def read_history(root: Path) -> History:
    """Read and check a root's manifests; a folder without any has an empty history.

    Raises
    ------
    BrokenFileError
        when the chain is missing, or a manifest is missing, cut off, or not the one that the chain names
    InputError
        when the terminal's settings make names of the disk unlike those in the manifests
    StorageError
        when the disk fails
    """
    folder = root / FOLDER
    if not folder.is_dir():
        return History(root)
    with storage(folder):
        names = sorted(
            p.name for p in folder.iterdir() if _NAME.match(p.name) and not p.name.startswith("._") and p.is_file()
        )
    chain = _read_chain(folder / CHAIN, names)
    generations = []
    for number, (name, c4) in enumerate(chain, 1):
        path = folder / name
        if name not in names:
            raise BrokenFileError(
                f"the manifest {path} is missing, but the chain names it; ask for the folder to be sent again",
                path=str(path),
            )
        generations.append(_read_manifest(path, number, c4))
    listed = {name for name, _ in chain}
    loose = []
    for name in names:
        if name not in listed:
            _read_manifest(folder / name, 0, "")
            loose.append(name)
    _check_coding(root, generations)
    return History(root, tuple(generations), tuple(chain), tuple(loose))


def _check_coding(root: Path, generations: list[Generation]) -> None:
    """Raise InputError where names of the disk come in another coding than the manifest's: all would seem lost."""
    coding = sys.getfilesystemencoding()
    if coding.lower().replace("-", "") == "utf8":
        return
    for generation in generations:
        name = next((path for path in generation.records if not path.isascii()), "")
        if name:
            raise InputError(
                f"the manifest of {root} names {name}, but the language settings of this terminal read file names as "
                f"{coding}, so it cannot be found; nothing was checked: run the same command again after "
                "'export LC_ALL=C.UTF-8 PYTHONUTF8=1'"
            )


def _parse(path: Path, data: bytes, what: str) -> etree._Element:
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, remove_comments=True)
    try:
        return etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        raise BrokenFileError(
            f"the {what} {path} is cut off or damaged (line {error.lineno}); the run or copy that made it did not "
            "finish, so have the folder sent again or offload it once more",
            path=str(path),
        ) from error


def _load(path: Path) -> bytes:
    with storage(path):
        if path.stat().st_size > _LARGEST_MANIFEST_BYTES:
            raise BrokenFileError(f"{path} is too large for a manifest; ask for the folder to be sent again")
        return path.read_bytes()


def _read_chain(path: Path, names: list[str]) -> list[tuple[str, str]]:
    if not path.is_file():
        if len(names) <= 1:  # cut off between the first manifest and the chain
            return []
        raise BrokenFileError(
            f"{path} is missing, so the manifests beside it prove nothing; ask for the folder to be sent again",
            path=str(path),
        )
    tree = _parse(path, _load(path), "chain file")
    rows: list[tuple[str, str]] = []
    for row in tree.iterfind(f"{{{_CHAIN_NS}}}hashlist"):
        name, c4 = row.findtext(f"{{{_CHAIN_NS}}}path"), row.findtext(f"{{{_CHAIN_NS}}}c4")
        if row.get("sequencenr") != str(len(rows) + 1) or not name or not c4 or Path(name).name != name:
            raise BrokenFileError(
                f"the chain file {path} does not count its manifests from 1 without a gap; "
                "ask for the folder to be sent again",
                path=str(path),
            )
        rows.append((name, c4))
    return rows


def _read_manifest(path: Path, number: int, c4: str) -> Generation:
    data = _load(path)
    tree = _parse(path, data, "manifest")
    if c4 and digest_of("c4", data) != c4:
        raise BrokenFileError(
            f"the manifest {path} is not the one that the chain names: it was changed after it was written, "
            "so ask for the folder to be sent again",
            path=str(path),
        )
    if tree.tag != f"{{{_NS}}}hashlist":
        raise BrokenFileError(f"{path} is no manifest of a media hash list, version 2.0", path=str(path))
    records: dict[str, Record] = {}
    folders: dict[str, dict[str, tuple[str, str]]] = {}
    for row in tree.iterfind(f"{{{_NS}}}hashes/*"):
        if row.tag == f"{{{_NS}}}hash":
            record = _record(row, path)
            records[record.path] = record
        elif row.tag == f"{{{_NS}}}directoryhash":
            folders[row.findtext(f"{{{_NS}}}path") or ""] = _read_pair(row)
    root = tree.find(f"{{{_NS}}}processinfo/{{{_NS}}}roothash")
    if root is not None:
        folders["."] = _read_pair(root)
    return Generation(
        number,
        path.name,
        tree.findtext(f"{{{_NS}}}creatorinfo/{{{_NS}}}creationdate") or "",
        tree.findtext(f"{{{_NS}}}processinfo/{{{_NS}}}process") or "",
        records,
        folders,
        tuple(p.text for p in tree.iterfind(f"{{{_NS}}}processinfo/{{{_NS}}}ignore/{{{_NS}}}pattern") if p.text),
    )


def _record(row: etree._Element, manifest: Path) -> Record:
    path = row.find(f"{{{_NS}}}path")
    text = (path.text or "") if path is not None else ""
    try:
        check_path(text, f" in the manifest {manifest}")
        size = int(path.get("size") or -1) if path is not None else -1
    except ValueError as error:
        sentence = str(error) if isinstance(error, InputError) else f"the manifest {manifest} has a size that is none"
        raise BrokenFileError(sentence, path=str(manifest)) from error
    digests = {
        name: (child.text, child.get("action") or "")
        for name in ALGORITHMS
        if (child := row.find(f"{{{_NS}}}{name}")) is not None and child.text
    }
    modified = path.get("lastmodificationdate") or "" if path is not None else ""
    return Record(text, size if size >= 0 else None, modified, digests, row.findtext(f"{{{_NS}}}previousPath") or "")


def _read_pair(row: etree._Element) -> dict[str, tuple[str, str]]:
    found = {}
    for name in ALGORITHMS:
        content = row.findtext(f"{{{_NS}}}content/{{{_NS}}}{name}")
        structure = row.findtext(f"{{{_NS}}}structure/{{{_NS}}}{name}")
        if content and structure:
            found[name] = (content, structure)
    return found
