"""Manifests against the published schema and the reference library, both ways, and what refuses to be read."""

from __future__ import annotations

import copy
import os
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from ascmhl import errors as theirs
from ascmhl.generator import MHLGenerationCreationSession
from ascmhl.hasher import DirectoryHashContext, HashType
from ascmhl.hashlist import MHLCreatorInfo, MHLProcess, MHLProcessInfo, MHLTool
from ascmhl.history import MHLHistory
from ascmhl.ignore import MHLIgnoreSpec
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from rollsound.errors import BrokenFileError, InputError
from rollsound.turnover.hashing import ALGORITHMS, digest_of, folder_digests, raw
from rollsound.turnover.mhl import CHAIN, FOLDER, Entry, read_history, write_generation
from rollsound.turnover.walking import walk

SCHEMAS = Path(__file__).parents[1] / "reference" / "ascmhl"
WHEN = datetime(2027, 3, 9, 18, 30, tzinfo=UTC)
SPEC = "ASC MHL Specification 1.0 (15 March 2022)"
NS = "{urn:ASC:MHL:v2.0}"


def schema(name: str) -> etree.XMLSchema:
    """A schema whose imports are found in the folder of the copies, never on a network."""

    class Local(etree.Resolver):
        def resolve(self, url, _id, context):
            return self.resolve_filename(str(SCHEMAS / url.rsplit("/", 1)[-1]), context)

    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Local())
    return etree.XMLSchema(etree.parse(SCHEMAS / name, parser))


def make(root: Path, files: dict[str, bytes]) -> None:
    for path, data in files.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_bytes(data)


def entries(root: Path, *algorithms: str) -> list[Entry]:
    return [
        Entry(
            found.path,
            found.size,
            found.modified_ns,
            {name: digest_of(name, (root / found.path).read_bytes()) for name in algorithms},
        )
        for found in walk(root).files
    ]


FILES = {
    "NBF-D04/31A-01.wav": b"ferry",
    "NBF-D04/31A-02.wav": b"horn",
    "NBF-D04/mirrors/31A-01 Łucja.wav": b"mirror",
    "empty.bin": b"",
    "note with 'quotes' & <signs>.txt": b"x",
}


@pytest.fixture
def card(tmp_path: Path) -> Path:
    root = tmp_path / "CARD_ODILE"
    make(root, FILES)
    (root / "no files in here").mkdir()
    return root


def write(root: Path, *algorithms: str) -> Path:
    return write_generation(root, entries(root, *(algorithms or ("xxh64",))), folders=walk(root).folders, when=WHEN)


@pytest.mark.source("ASC MHL 2.0 XML schemas, github.com/ascmitc/mhl at e73462c", kind="published")
def test_manifest_and_chain_are_valid(card: Path) -> None:
    manifest = write(card, *ALGORITHMS)
    write(card)
    assert re.fullmatch(r"0001_CARD_ODILE_2027-03-09_183000Z\.mhl", manifest.name)
    for path in sorted((card / FOLDER).glob("*.mhl")):
        schema("ASCMHL.xsd").assertValid(etree.parse(path))
    schema("ASCMHLDirectory.xsd").assertValid(etree.parse(card / FOLDER / CHAIN))


@pytest.mark.source("ASC MHL 2.0 XML schemas, github.com/ascmitc/mhl at e73462c", kind="published")
def test_the_schema_can_refuse(card: Path) -> None:
    tree = etree.parse(write(card))
    broken = copy.deepcopy(tree)
    broken.find(f".//{NS}xxh64").set("action", "proved")
    assert not schema("ASCMHL.xsd").validate(broken)
    assert schema("ASCMHL.xsd").validate(tree)


@pytest.mark.source("PyPI ascmhl 1.2, hasher", kind="library")
@pytest.mark.parametrize("algorithm", ALGORITHMS)
@pytest.mark.parametrize("data", [b"", b"a", b"Northbound Ferry" * 1000])
def test_digests_as_the_library_writes_them(algorithm: str, data: bytes) -> None:
    hasher = HashType[algorithm].value
    assert digest_of(algorithm, data) == hasher.hash_data(data)
    assert raw(algorithm, digest_of(algorithm, data)) == hasher.bytes_from_string_digest(hasher.hash_data(data))


@pytest.mark.source("SMPTE ST 2114:2017, the C4 identifier of no bytes", kind="memory")
def test_c4_of_nothing() -> None:
    assert digest_of("c4", b"") == (
        "c459dsjfscH38cYeXXYogktxf4Cd9ibshE3BHUo6a58hBXmRQdZrAkZzsWcbWtDg5oQstpDuni4Hirj75GEmTc1sFT"
    )


@pytest.mark.source("PyPI ascmhl 1.2, DirectoryHashContext", kind="library")
@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_folder_digests_as_the_library_makes_them(algorithm: str) -> None:
    files = {f"a/{n}.wav": digest_of(algorithm, bytes([n])) for n in range(4)} | {"z": digest_of(algorithm, b"z")}
    inner, outer = DirectoryHashContext(algorithm), DirectoryHashContext(algorithm)
    for path, text in files.items():
        (inner if "/" in path else outer).append_file_hash(path, text)
    outer.append_directory_hashes("a", inner.final_content_hash_str(), inner.final_structure_hash_str())
    empty = DirectoryHashContext(algorithm)
    outer.append_directory_hashes("b", empty.final_content_hash_str(), empty.final_structure_hash_str())
    found = folder_digests(algorithm, files, ["b"])
    assert found["a"] == (inner.final_content_hash_str(), inner.final_structure_hash_str())
    assert found["."] == (outer.final_content_hash_str(), outer.final_structure_hash_str())
    renamed = {path.replace("0", "9"): text for path, text in files.items()}
    assert folder_digests(algorithm, renamed, ["b"])["."][0] == found["."][0]
    assert folder_digests(algorithm, renamed, ["b"])["."][1] != found["."][1]


@pytest.mark.source("PyPI ascmhl 1.2, MHLHistory", kind="library")
def test_the_library_reads_what_we_write(card: Path) -> None:
    write(card, "xxh64", "md5")
    (card / "empty.bin").write_bytes(b"no longer")
    write(card, "xxh64")
    history = MHLHistory.load_from_path(str(card))
    assert [generation.generation_number for generation in history.hash_lists] == [1, 2]
    assert history.hash_lists[0].process_info.process == "transfer"
    for path, data in FILES.items():
        first = history.find_original_hash_entry_for_path(path)
        assert (first.action, first.hash_string) == ("original", HashType[first.hash_format].value.hash_data(data))
        again = history.hash_lists[1].find_media_hash_for_path(path).hash_entries[0]
        assert again.action == ("failed" if path == "empty.bin" else "verified")


def theirs_writes(root: Path, algorithm: str) -> None:
    session = MHLGenerationCreationSession(MHLHistory.load_from_path(str(root)), MHLIgnoreSpec([]))
    for path in sorted(p for p in root.rglob("*") if p.is_file() and FOLDER not in p.parts):
        modified = datetime.fromtimestamp(path.stat().st_mtime)
        digest = HashType[algorithm].value.hash_file(str(path))
        session.append_file_hash(str(path), path.stat().st_size, modified, algorithm, digest)
    creator = MHLCreatorInfo()
    creator.tool, creator.creation_date, creator.host_name = MHLTool("test", "1"), WHEN.isoformat(), "truck"
    process = MHLProcessInfo()
    process.process = MHLProcess("in-place")
    session.commit(creator, process)


@pytest.mark.source("PyPI ascmhl 1.2, MHLGenerationCreationSession", kind="library")
@pytest.mark.parametrize("algorithm", ["c4", "md5", "sha1", "xxh128", "xxh3", "xxh64"])
def test_we_read_what_the_library_writes(card: Path, algorithm: str) -> None:
    theirs_writes(card, algorithm)
    history = read_history(card)
    assert history.paths == FILES.keys()
    assert history.generations[0].process == "in-place"
    for path, data in FILES.items():
        assert history.digests(path) == {algorithm: digest_of(algorithm, data)}
        # The library leaves the size of an empty file out.
        assert history.record(path).size in ((len(data),) if data else (0, None))


@pytest.mark.source("PyPI ascmhl 1.2, both ways in turns", kind="library")
def test_generations_in_turns(card: Path) -> None:
    write(card, "xxh128")
    theirs_writes(card, "xxh128")
    write(card, "xxh128", "md5")
    theirs_writes(card, "md5")
    history = read_history(card)
    assert len(history.generations) == 4
    actions = [next(iter(g.records["empty.bin"].digests.values()))[1] for g in history.generations]
    assert actions == ["original", "verified", "verified", "verified"]
    assert len(MHLHistory.load_from_path(str(card)).hash_lists) == 4


@pytest.mark.source(SPEC + ", root hash equal to the library's for the whole tree", kind="library")
def test_root_digest_in_the_manifest(card: Path) -> None:
    manifest = write(card)
    contexts: dict[Path, DirectoryHashContext] = {}
    for folder, folders, names in os.walk(card, topdown=False):
        context = contexts[Path(folder)] = DirectoryHashContext("xxh64")
        for name in names:
            if FOLDER not in Path(folder).parts:
                context.append_file_hash(name, HashType["xxh64"].value.hash_file(str(Path(folder) / name)))
        for name in folders:
            if name != FOLDER:
                inner = contexts[Path(folder) / name]
                context.append_directory_hashes(name, inner.final_content_hash_str(), inner.final_structure_hash_str())
    root = etree.parse(manifest).find(f".//{NS}roothash")
    assert root.findtext(f"{NS}content/{NS}xxh64") == contexts[card].final_content_hash_str()
    assert root.findtext(f"{NS}structure/{NS}xxh64") == contexts[card].final_structure_hash_str()


@pytest.mark.source("PyPI ascmhl 1.2 refuses the same changed manifest", kind="library")
def test_a_changed_manifest_is_refused(card: Path) -> None:
    manifest = write(card)
    manifest.write_bytes(manifest.read_bytes().replace(b'size="5"', b'size="6"'))
    with pytest.raises(BrokenFileError, match="changed after it was written"):
        read_history(card)
    with pytest.raises(theirs.ModifiedMHLManifestFileException):
        MHLHistory.load_from_path(str(card))


def test_a_cut_off_manifest_is_told_in_one_sentence(card: Path) -> None:
    manifest = write(card)
    whole = manifest.read_bytes()
    for size in (0, 1, len(whole) // 2, len(whole) - 12):
        manifest.write_bytes(whole[:size])
        with pytest.raises(BrokenFileError, match=r"^the manifest .* is cut off or damaged .*once more$"):
            read_history(card)


def test_lost_manifest_chain_and_gap(card: Path) -> None:
    first = write(card)
    write(card)
    chain = card / FOLDER / CHAIN
    whole = chain.read_bytes()
    chain.write_bytes(whole.replace(b'sequencenr="2"', b'sequencenr="3"'))
    with pytest.raises(BrokenFileError, match="without a gap"):
        read_history(card)
    chain.unlink()
    with pytest.raises(BrokenFileError, match="prove nothing"):
        read_history(card)
    chain.write_bytes(whole)
    first.unlink()
    with pytest.raises(BrokenFileError, match="is missing, but the chain names it"):
        read_history(card)


def test_killed_between_manifest_and_chain_goes_on(card: Path) -> None:
    for _ in range(2):
        chain = card / FOLDER / CHAIN
        before = chain.read_bytes() if chain.exists() else None
        write(card)
        if before is None:
            chain.unlink()
        else:
            chain.write_bytes(before)
        assert len(read_history(card).loose) == 1
        write(card)
        history = read_history(card)
        assert not history.loose
    assert len(history.generations) == 4
    assert len(MHLHistory.load_from_path(str(card)).hash_lists) == 4


@pytest.mark.parametrize("path", ["../outside.wav", "/etc/passwd", "a/../../b", "C:\\x", "\\\\host\\x", ""])
def test_paths_that_leave_the_folder_are_refused(card: Path, path: str) -> None:
    manifest = write(card)
    tree = etree.parse(manifest)
    tree.find(f".//{NS}hash/{NS}path").text = path
    data = etree.tostring(tree)
    manifest.write_bytes(data)
    chain = (card / FOLDER / CHAIN).read_text()
    c4 = re.search("c4.{88}(?=<)", chain)[0]
    (card / FOLDER / CHAIN).write_text(chain.replace(c4, digest_of("c4", data)))
    with pytest.raises(BrokenFileError, match="does not lie inside"):
        read_history(card)


def test_a_known_file_needs_a_known_digest(card: Path) -> None:
    write(card, "xxh64")
    with pytest.raises(InputError, match="is known by xxh64"):
        write(card, "md5")


def test_a_failed_file_gains_no_new_digest(card: Path) -> None:
    write(card, "xxh64")
    (card / "empty.bin").write_bytes(b"changed")
    write(card, "xxh64", "md5")
    history = read_history(card)
    assert dict(history.digests("empty.bin")) == {"xxh64": digest_of("xxh64", b"")}
    assert history.record("empty.bin").digests["xxh64"][1] == "failed"


def test_entities_are_not_followed(card: Path, tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("SECRET")
    manifest = write(card)
    text = manifest.read_text().replace(
        "<hashlist ", f'<!DOCTYPE h [<!ENTITY s SYSTEM "{secret.as_uri()}">]>\n<hashlist ', 1
    )
    text = text.replace(">empty.bin<", ">&s;<")
    manifest.write_text(text)
    chain = (card / FOLDER / CHAIN).read_text()
    c4 = re.search("c4.{88}(?=<)", chain)[0]
    (card / FOLDER / CHAIN).write_text(chain.replace(c4, digest_of("c4", text.encode())))
    with pytest.raises(BrokenFileError):
        read_history(card)


@settings(max_examples=40, deadline=None)
@given(
    st.dictionaries(
        st.text(
            st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="/\\\ufffe\uffff"),
            min_size=1,
            max_size=20,
        ).filter(lambda name: name not in (".", "..") and not re.match(r"[A-Za-z]:", name)),
        st.binary(max_size=8),
        min_size=1,
        max_size=6,
    )
)
def test_any_name_comes_back(tmp_path_factory: pytest.TempPathFactory, files: dict[str, bytes]) -> None:
    root = tmp_path_factory.mktemp("names") / "r"
    root.mkdir()
    rows = [Entry(name, len(data), 0, {"xxh3": digest_of("xxh3", data)}) for name, data in files.items()]
    write_generation(root, rows, when=WHEN)
    history = read_history(root)
    assert {path: history.digests(path)["xxh3"] for path in history.paths} == {e.path: e.digests["xxh3"] for e in rows}
