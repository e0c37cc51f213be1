"""What carriers are asked for: read from a show, from a text that holds a radio part, or from a bare request."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from rollsound.actions.gather import read_text_file
from rollsound.errors import InputError, Mistake, MistakesError, storage
from rollsound.jsontext import read_json
from rollsound.radio.carriers.task import Mode, Task, Wanted
from rollsound.radio.model import RadioPart, Transmitter

if TYPE_CHECKING:
    from rollsound.radio.asking import Asking
    from rollsound.radio.scan import ScanLevels
    from rollsound.show.model import Plan

Form = Literal["show", "text", "request"]
LARGEST_SCAN_BYTES = 200_000_000


@dataclass(frozen=True)
class Asked:
    """What is asked for, and where it was read.

    ``radio`` is empty for a bare request, which has only a task. ``document`` is the text's or the show's document, as
    it was written.
    """

    path: Path
    form: Form
    name: str
    radio: RadioPart
    task: Task
    mode: Mode
    scans: Mapping[str, ScanLevels] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    site_names: Mapping[str, str] = field(default_factory=dict)
    sites: tuple[str, ...] = ()
    """Ids of the sites that it is for; all of them when empty."""
    document: Mapping[str, Any] = field(default_factory=dict)
    is_json: bool = False
    revision: int | None = None
    asking: Asking | None = None
    """The question with its mistakes; none for a bare request."""

    @property
    def carriers_hz(self) -> dict[str, int]:
        """The frequencies that it has now, in whole hertz."""
        return {each.id: each.now_hz for each in self.task.wanted if each.now_hz is not None}

    @property
    def folder(self) -> Path:
        """Where names of files begin."""
        return self.path if self.form == "show" else self.path.parent

    def wanted(self, id: str) -> Wanted:
        """What a transmitter asks for; raises InputError when there is none of this id."""
        found = next((each for each in self.task.wanted if each.id == id), None)
        if found is None:
            known = ", ".join(each.id for each in self.task.wanted[:12])
            raise InputError(f"{self.name} has no transmitter '{id}'; there are: {known}")
        return found

    def transmitter(self, id: str) -> Transmitter | None:
        """The transmitter as it is written; none in a bare request."""
        return next((each for each in self.radio.transmitters if each.id == id), None)


def read(path: Path, *, sites: Collection[str] = (), ask: bool = True, scans: bool = True) -> Asked:
    """Read a show's folder, a YAML or JSON text with a radio part, or a bare request for carriers.

    Parameters
    ----------
    sites
        ids of the sites that carriers are for; all of them when empty
    ask
        whether carriers are asked for: without, mistakes that only a search would trip over are left alone
    scans
        whether what the plan's scans found counts as in use

    Raises
    ------
    MistakesError
        with every mistake and, where it has lines, its line
    InputError
        when it is none of the three
    StorageError
        when it is not there
    """
    with storage(path):
        is_folder = path.is_dir()
        path.stat()
    if is_folder:
        return _of_show(path, _How(tuple(sites), ask, scans))
    text = read_text_file(path)
    if path.suffix.lower() == ".json" or text.lstrip("\ufeff \t\r\n")[:1] == "{":
        return _of_json(path, text, _How(tuple(sites), ask, scans))
    from rollsound.show.text import read_text

    whole = read_text(text, path.name)
    _refuse_other(whole.document, path)
    return _of_document(path, whole.document, whole.line_of, _How(tuple(sites), ask, scans))


@dataclass(frozen=True)
class _How:
    """How it is read."""

    sites: tuple[str, ...]
    ask: bool
    scans: bool


def _of_show(path: Path, how: _How) -> Asked:
    from rollsound.show.folder import Show

    with Show.open(path, read_only=True) as show:
        plan, document, revision = show.plan(), show.document(), show.revision
    return _asked(path, "show", plan, document, how, revision=revision)


def _of_json(path: Path, text: str, how: _How) -> Asked:
    whole = read_json(text, path.name)
    if isinstance(whole.value, dict) and "radio" not in whole.value and "kinds" in whole.value:
        from rollsound.radio.carriers.instances import read as read_request

        task, mode = read_request(text, path.name)
        return Asked(path, "request", task.name or path.stem, RadioPart(), task, mode, is_json=True)
    if not isinstance(whole.value, dict):
        raise InputError(f"{path.name} holds no group of named values; begin with 'radio'")
    _refuse_other(whole.value, path)
    return _of_document(path, whole.value, whole.line_of, how, is_json=True)


def _refuse_other(document: Mapping[str, Any], path: Path) -> None:
    if not isinstance(document.get("radio"), dict):
        inside = " and indent what is there under it" if {"transmitters", "receivers"} & set(document) else ""
        raise InputError(
            f"{path.name} holds no radio part; begin with 'radio:'{inside}, or name a show's folder", path=str(path)
        )


def _of_document(
    path: Path,
    document: dict[str, Any],
    line_of: Callable[[tuple[int | str, ...]], int],
    how: _How,
    *,
    is_json: bool = False,
) -> Asked:
    from rollsound.show.checked import checked

    plan = checked({"show": {"title": path.stem}, **document}, path.name, line_of)
    return _asked(path, "text", plan, document, how, is_json=is_json, line_of=line_of)


def _asked(
    path: Path,
    form: Form,
    plan: Plan,
    document: dict[str, Any],
    how: _How,
    *,
    is_json: bool = False,
    revision: int | None = None,
    line_of: Callable[[tuple[int | str, ...]], int] | None = None,
) -> Asked:
    from rollsound.radio.asking import asked

    known = {each.id: each.name for each in plan.sites}
    _refuse_unknown(how.sites, known, plan.radio, path)
    folder = path if form == "show" else path.parent
    counted = how.ask and how.scans
    scans = read_scans(folder, plan.radio) if counted else {}
    asking = asked(plan.radio, sites=how.sites or None, scans=scans if counted else None)
    if how.ask and asking.wrong:
        told = [
            Mistake(each.place, _line(each.path, document, line_of) if line_of else 0, each.sentence)
            for each in asking.wrong
        ]
        raise MistakesError(str(path), sorted(told, key=lambda each: each.line))
    return Asked(
        path=path,
        form=form,
        name=plan.show.title,
        radio=plan.radio,
        task=asking.task,
        mode=Mode.ALL,
        scans=scans,
        notes=asking.notes,
        site_names=known,
        sites=how.sites,
        document=document,
        is_json=is_json,
        revision=revision,
        asking=asking,
    )


def read_scans(folder: Path, radio: RadioPart) -> dict[str, ScanLevels]:
    """The scans of a plan that are used, by id; those whose file is not there are left out.

    Raises
    ------
    InputError
        when a file is there and is no scan
    """
    from rollsound.radio.scan import read as levels_of

    found: dict[str, ScanLevels] = {}
    for each in radio.scans:
        if each.used and scan_is_there(folder / each.file):
            found[each.id] = levels_of(scan_text(folder / each.file), each.file)
    return found


def scan_is_there(path: Path) -> bool:
    """Whether a scan's file can be reached; one whose name no disk takes, or whose folder is shut, is not there."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


Stamp = tuple[str, int, int]


def scan_stamps(folder: Path, radio: RadioPart) -> tuple[Stamp, ...]:
    """Size and time of every scan's file, by which a change of one is known; of one that is not there, nothing."""
    found = []
    for scan in radio.scans:
        try:
            info = (folder / scan.file).stat()
            found.append((scan.file, info.st_size, info.st_mtime_ns))
        except (OSError, ValueError):
            found.append((scan.file, -1, -1))
    return tuple(found)


def scan_text(path: Path) -> str:
    """The text of a scan's file, whatever letters its remarks hold.

    Raises
    ------
    StorageError, InputError
        when it is not there, is no file, or far too large
    """
    with storage(path):
        size = path.stat().st_size
        if not path.is_file():
            raise InputError(f"{path} is no file; name the CSV file of a scan")
        if size > LARGEST_SCAN_BYTES:
            raise InputError(f"{path} is larger than any scan; export a part of the spectrum, or wider steps")
        data = path.read_bytes()
    return data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig", errors="replace")


def refuse_unknown_sites(asked: Asked, sites: Collection[str]) -> None:
    """Raise InputError for a site that what was read does not know."""
    _refuse_unknown(sites, asked.site_names, asked.radio, asked.path)


def _refuse_unknown(sites: Collection[str], names: Mapping[str, str], radio: RadioPart, path: Path) -> None:
    """A site that is nowhere: neither among the sites, nor as a ground, nor named by a transmitter or a scan."""
    named = [site for part in (radio.transmitters, radio.excluded, radio.scans) for each in part for site in each.sites]
    known = dict.fromkeys([*names, *(each.id for each in radio.grounds), *named])
    for site in sites:
        if site not in known:
            there = ", ".join(known) or "none yet"
            raise InputError(f"{path} has no site '{site}'; there are: {there}")


def _line(pointer: str, document: Any, line_of: Callable[[tuple[int | str, ...]], int]) -> int:
    """The line of a pointer that has ids in place of positions."""
    place: list[int | str] = []
    here = document
    for step in pointer.split("/")[1:]:
        step = step.replace("~1", "/").replace("~0", "~")
        if isinstance(here, list):
            at = next((n for n, each in enumerate(here) if isinstance(each, dict) and each.get("id") == step), None)
            if at is None:
                break
            place.append(at)
            here = here[at]
        else:
            place.append(step)
            here = here.get(step) if isinstance(here, dict) else None
    return line_of(tuple(place))


__all__ = ["Asked", "read", "read_scans", "refuse_unknown_sites", "scan_text"]
