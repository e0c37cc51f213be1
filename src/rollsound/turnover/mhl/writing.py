"""Writing a manifest and its link in the chain, each whole or not at all."""

from __future__ import annotations

import socket
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from lxml import etree

import rollsound
from rollsound.errors import BrokenFileError, InputError, storage
from rollsound.turnover.hashing import ALGORITHMS, digest_of, folder_digests
from rollsound.turnover.mhl.model import CHAIN, ENDING, FOLDER, IGNORED, Entry, History, check_path
from rollsound.turnover.mhl.model import CHAIN_NAMESPACE as _CHAIN_NS
from rollsound.turnover.mhl.model import NAMESPACE as _NS
from rollsound.turnover.mhl.reading import read_history
from rollsound.whole import write_whole


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
    tree = _root(_NS, "hashlist", version="2.0")
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


def _root(namespace: str, tag: str, **attributes: str) -> etree._Element:
    names: dict[str, str] = {None: namespace}  # type: ignore[dict-item]  # the default namespace has no prefix
    return etree.Element(f"{{{namespace}}}{tag}", attributes, nsmap=names)


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
    tree = _root(_CHAIN_NS, "ascmhldirectory")
    for number, (name, c4) in enumerate(chain, 1):
        row = etree.SubElement(tree, f"{{{_CHAIN_NS}}}hashlist", {"sequencenr": str(number)})
        etree.SubElement(row, f"{{{_CHAIN_NS}}}path").text = name
        etree.SubElement(row, f"{{{_CHAIN_NS}}}c4").text = c4
    write_whole(folder / CHAIN, etree.tostring(tree, xml_declaration=True, encoding="UTF-8", pretty_print=True))
