"""The media hash list: a folder's history of digests, one manifest a generation, chained so that no link can change.

Written and read in the XML of the ASC Media Hash List, version 2.0. A folder ``ascmhl`` in the root of what is
managed holds the manifests (``0001_<folder>_<date>_<time>Z.mhl``) and ``ascmhl_chain.xml``, which names each manifest
with the C4 identifier of its bytes.

Source: ASC MHL Specification 1.0 (15 March 2022) and its XML schemas.
"""

from __future__ import annotations

import re
import socket
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath

from lxml import etree

import rollsound
from rollsound.errors import BrokenFileError, InputError, storage
from rollsound.turnover.hashing import ALGORITHMS, QUICKEST, digest_of, folder_digests
from rollsound.whole import write_whole

FOLDER = "ascmhl"
CHAIN = "ascmhl_chain.xml"
ENDING = ".mhl"
# What the systems of laptops leave on every drive they touch; never recordings.
SYSTEM_FILES = (
    ".DS_Store",
    ".Spotlight-V100/",
    ".Trashes/",
    ".fseventsd/",
    ".TemporaryItems/",
    "System Volume Information/",
    "$RECYCLE.BIN/",
    "Thumbs.db",
    "desktop.ini",
)
IGNORED = (".DS_Store", "ascmhl", "ascmhl/", *SYSTEM_FILES[1:])

_NS = "urn:ASC:MHL:v2.0"
_CHAIN_NS = "urn:ASC:MHL:DIRECTORY:v2.0"
_NAME = re.compile(r"^(\d{4,})_.*\.mhl$", re.DOTALL)
_LARGEST_MANIFEST_BYTES = 1_000_000_000


@dataclass(frozen=True)
class Entry:
    """One file as it stands on the disk now: path relative to the root, ``/`` between its parts, and its digests."""

    path: str
    size: int
    modified_ns: int
    digests: Mapping[str, str]


@dataclass(frozen=True)
class Record:
    """One file as one manifest has it; ``digests`` maps the algorithm to (written digest, action)."""

    path: str
    size: int | None
    modified: str
    digests: Mapping[str, tuple[str, str]]
    previous_path: str = ""


@dataclass(frozen=True)
class Generation:
    """One manifest."""

    number: int
    name: str
    created: str
    process: str
    records: Mapping[str, Record]
    folders: Mapping[str, Mapping[str, tuple[str, str]]]
    ignored: tuple[str, ...] = ()


@dataclass(frozen=True)
class History:
    """All manifests of one root, oldest first. ``loose`` names whole manifests that the chain does not list (yet)."""

    root: Path
    generations: tuple[Generation, ...] = ()
    chain: tuple[tuple[str, str], ...] = ()
    loose: tuple[str, ...] = ()
    _first: dict[str, dict[str, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for generation in self.generations:
            for record in generation.records.values():
                if record.previous_path and record.previous_path in self._first:
                    self._first[record.path] = self._first.pop(record.previous_path)
                known = self._first.setdefault(record.path, {})
                for algorithm, (text, action) in record.digests.items():
                    # A digest that failed may never prove anything later.
                    if action != "failed":
                        known.setdefault(algorithm, text)

    @property
    def paths(self) -> frozenset[str]:
        """Every file that the history knows, under its newest name."""
        return frozenset(self._first)

    @property
    def ignored(self) -> tuple[str, ...]:
        """The patterns of the newest manifest."""
        return (self.generations[-1].ignored if self.generations else ()) or IGNORED

    def digests(self, path: str) -> Mapping[str, str]:
        """The digests that prove a file: the first recorded of every algorithm."""
        return self._first.get(path, {})

    def record(self, path: str) -> Record | None:
        """The newest record of a file."""
        return next((g.records[path] for g in reversed(self.generations) if path in g.records), None)

    def quickest(self, path: str) -> str:
        """The quickest algorithm that a file can be proven by; empty when there is none."""
        return next((name for name in QUICKEST if name in self.digests(path)), "")

    def action(self, path: str, algorithm: str, text: str) -> str:
        """What a digest found now means: original, verified or failed."""
        known = self.digests(path)
        if not known:
            return "original"
        return "verified" if known.get(algorithm, text) == text else "failed"


def has_history(root: Path) -> bool:
    """Whether a folder holds manifests."""
    return (root / FOLDER).is_dir()


def read_history(root: Path) -> History:
    """Read and check a root's manifests; a folder without any has an empty history.

    Raises
    ------
    BrokenFileError
        when the chain is missing, or a manifest is missing, cut off, or not the one that the chain names
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
    return History(root, tuple(generations), tuple(chain), tuple(loose))


def write_generation(
    root: Path,
    entries: Iterable[Entry],
    process: str = "transfer",
    *,
    folders: Sequence[str] = (),
    folder_hashes: bool = True,
    when: datetime | None = None,
    history: History | None = None,
    comment: str = "",
    author: str = "",
    location: str = "",
) -> Path:
    """Append one manifest to a root's history and to its chain; returns its path.

    Parameters
    ----------
    entries
        the files hashed now. Each digest is marked original, verified or failed against the history; a file that the
        history knows must carry at least one algorithm that it is known by.
    process
        ``transfer`` for what was copied here, ``in-place`` for what was only hashed
    folders
        folders that hold no file, for the folder digests
    folder_hashes
        false when the root holds files that are not in ``entries`` or the history
    when
        start of the work; now when left out

    Raises
    ------
    InputError
        when a path cannot stand in a manifest, or a known file came with a foreign algorithm only
    BrokenFileError, StorageError
        as `read_history`; when the disk fails
    """
    history = history or read_history(root)
    history = _adopt(history)
    when = (when or datetime.now(UTC)).astimezone(UTC)
    rows = sorted(entries, key=lambda entry: entry.path)
    number = len(history.chain) + 1
    name = f"{number:04d}_{_root_name(root)}_{when:%Y-%m-%d_%H%M%S}Z{ENDING}"
    tree = etree.Element(f"{{{_NS}}}hashlist", {"version": "2.0"}, nsmap={None: _NS})
    _creator(tree, when, comment, author, location)
    digests = _folder_rows(history, rows, folders) if folder_hashes else {}
    _process(tree, process, digests.pop(".", {}), history)
    if rows or digests:
        hashes = _add(tree, "hashes")
        for entry in rows:
            _hash_row(hashes, entry, history, when)
        for path, found in digests.items():
            row = _add(hashes, "directoryhash")
            _add(row, "path", path)
            _folder_pair(row, found)
    data = etree.tostring(tree, xml_declaration=True, encoding="UTF-8", pretty_print=True)
    folder = root / FOLDER
    with storage(folder):
        folder.mkdir(parents=True, exist_ok=True)
    write_whole(folder / name, data)
    _write_chain(folder, (*history.chain, (name, digest_of("c4", data))))
    return folder / name


def _root_name(root: Path) -> str:
    name = root.resolve().name or "root"
    # The whole name must fit 255 bytes with its number, date and the ending of an unfinished file.
    return name.encode("utf-8", "replace")[:180].decode("utf-8", "ignore")


def _adopt(history: History) -> History:
    """Take up whole manifests that the chain does not name: the run that wrote them was cut off in between."""
    if not history.loose:
        return history
    folder = history.root / FOLDER
    chain = history.chain
    for name in history.loose:
        if int(name.split("_")[0]) != len(chain) + 1:
            raise BrokenFileError(
                f"the manifest {folder / name} is not in the chain and does not follow it; move it out of the folder",
                path=str(folder / name),
            )
        chain = (*chain, (name, digest_of("c4", (folder / name).read_bytes())))
    _write_chain(folder, chain)
    return read_history(history.root)


# ---- writing ---------------------------------------------------------------------------------------------------------


def _add(parent: etree._Element, tag: str, text: str | None = None, **attributes: str) -> etree._Element:
    child = etree.SubElement(parent, f"{{{_NS}}}{tag}", attributes)
    if text is not None:
        try:
            child.text = text
        except ValueError as error:
            raise InputError(f"the name {text!r} cannot be written in a manifest; rename it") from error
    return child


def _creator(tree: etree._Element, when: datetime, comment: str, author: str, location: str) -> None:
    creator = _add(tree, "creatorinfo")
    _add(creator, "creationdate", when.isoformat(timespec="seconds"))
    _add(creator, "hostname", socket.gethostname() or "unknown")
    _add(creator, "tool", "Rollsound", version=rollsound.__version__)
    for tag, text in (("author", author), ("location", location), ("comment", comment)):
        if text:
            _add(creator, tag, text)


def _process(tree: etree._Element, process: str, root: Mapping[str, tuple[str, str]], history: History) -> None:
    if process not in ("in-place", "transfer", "flatten"):
        raise InputError(f"'{process}' is no process of a media hash list; write transfer, in-place or flatten")
    info = _add(tree, "processinfo")
    _add(info, "process", process)
    if root:
        _folder_pair(_add(info, "roothash"), root)
    ignore = _add(info, "ignore")
    for pattern in dict.fromkeys((*history.ignored, *IGNORED)):
        _add(ignore, "pattern", pattern)


def _hash_row(hashes: etree._Element, entry: Entry, history: History, when: datetime) -> None:
    check_path(entry.path, "")
    known = history.digests(entry.path)
    if known and not set(known) & set(entry.digests):
        raise InputError(
            f"{entry.path} is known by {', '.join(known)} and must be proven by it before another digest can be added"
        )
    modified = datetime.fromtimestamp(entry.modified_ns // 1_000_000_000, UTC).isoformat()
    row = _add(hashes, "hash")
    _add(row, "path", entry.path, size=str(entry.size), lastmodificationdate=modified)
    actions = {name: history.action(entry.path, name, text) for name, text in entry.digests.items()}
    for name in ALGORITHMS:
        # When the known digest failed, one of a new algorithm would prove the wrong file from now on.
        if name in entry.digests and ("failed" not in actions.values() or actions[name] == "failed"):
            attributes = {"action": actions[name], "hashdate": when.isoformat(timespec="seconds")}
            _add(row, name, entry.digests[name], **attributes)


def _folder_pair(row: etree._Element, found: Mapping[str, tuple[str, str]]) -> None:
    for place, tag in enumerate(("content", "structure")):
        box = _add(row, tag)
        for name in ALGORITHMS:
            if name in found:
                _add(box, name, found[name][place])


def _folder_rows(history: History, rows: list[Entry], folders: Sequence[str]) -> dict[str, dict[str, tuple[str, str]]]:
    """Folder digests in every algorithm in which all files, those of now and of before, are known."""
    now = {entry.path: entry.digests for entry in rows}
    every = {path: now.get(path) or history.digests(path) for path in (history.paths | now.keys())}
    used = dict.fromkeys(name for entry in rows for name in entry.digests)
    found: dict[str, dict[str, tuple[str, str]]] = {}
    for name in used:
        if all(name in digests for digests in every.values()):
            files = {path: digests[name] for path, digests in every.items()}
            for folder, pair in folder_digests(name, files, folders).items():
                found.setdefault(folder, {})[name] = pair
    return found


def _write_chain(folder: Path, chain: Sequence[tuple[str, str]]) -> None:
    tree = etree.Element(f"{{{_CHAIN_NS}}}ascmhldirectory", nsmap={None: _CHAIN_NS})
    for number, (name, c4) in enumerate(chain, 1):
        row = etree.SubElement(tree, f"{{{_CHAIN_NS}}}hashlist", {"sequencenr": str(number)})
        etree.SubElement(row, f"{{{_CHAIN_NS}}}path").text = name
        etree.SubElement(row, f"{{{_CHAIN_NS}}}c4").text = c4
    write_whole(folder / CHAIN, etree.tostring(tree, xml_declaration=True, encoding="UTF-8", pretty_print=True))


# ---- reading ---------------------------------------------------------------------------------------------------------


def check_path(path: str, where: str) -> str:
    """The path, if it may stand in a manifest: relative, inside the root. Raises InputError otherwise."""
    parts = PurePosixPath(path).parts
    if not parts or path.startswith("/") or ".." in parts or re.match(r"^[A-Za-z]:[\\/]", path) or "\\" in path[:2]:
        raise InputError(f"the path '{path}'{where} does not lie inside the folder; ask for the folder to be sent again")
    return path


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
    return Record(
        text, size if size >= 0 else None, modified, digests, row.findtext(f"{{{_NS}}}previousPath") or ""
    )


def _read_pair(row: etree._Element) -> dict[str, tuple[str, str]]:
    found = {}
    for name in ALGORITHMS:
        content = row.findtext(f"{{{_NS}}}content/{{{_NS}}}{name}")
        structure = row.findtext(f"{{{_NS}}}structure/{{{_NS}}}{name}")
        if content and structure:
            found[name] = (content, structure)
    return found
