"""Keeping bytes whole: atomic writing, fingerprints, strays."""

import errno
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import studio
from studio.errors import KeepingError
from studio.keep import FileCalls, backup_of, canonical_json, clean_strays, explain, fingerprint, write_whole

JSON_TREES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=4),
    max_leaves=20,
)

posix = pytest.mark.skipif(sys.platform == "win32", reason="mode bits and links of POSIX")


def test_fingerprint_is_sha256_of_the_standard() -> None:
    """FIPS 180-4 example messages: the empty message and 'abc' (NIST example values for SHA-256)."""
    assert fingerprint(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert fingerprint(b"") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def test_canonical_json_sorts_keys_and_keeps_numbers_shortest() -> None:
    tree = {"b": [1, 1.0, 0.1, 1e22, -0.0], "a": {"é": None, "d": True}}
    expected = '{"a":{"d":true,"é":null},"b":[1,1.0,0.1,1e+22,-0.0]}'
    assert canonical_json(tree) == expected.encode("utf-8")


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), "\ud800", {"a": [float("-inf")]}])
def test_canonical_json_refuses_what_is_no_json(bad: object) -> None:
    with pytest.raises(ValueError, match=r"."):
        canonical_json(bad)


@given(JSON_TREES)
def test_canonical_json_reads_back_and_does_not_depend_on_order(tree: object) -> None:
    text = canonical_json(tree)
    assert canonical_json(json.loads(text)) == text
    if isinstance(tree, dict):
        assert canonical_json(dict(reversed(list(tree.items())))) == text


def test_a_new_file_and_then_a_second_version(tmp_path: Path) -> None:
    path = tmp_path / "site.json"
    assert write_whole(path, b"one") == fingerprint(b"one")
    assert path.read_bytes() == b"one"
    assert not backup_of(path).exists()
    write_whole(path, b"two")
    assert path.read_bytes() == b"two"
    assert backup_of(path).read_bytes() == b"one"
    write_whole(path, b"three")
    assert backup_of(path).read_bytes() == b"two"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["site.json", "site.json~"]


def test_saving_the_same_twice_keeps_the_version_before(tmp_path: Path) -> None:
    path = tmp_path / "site.json"
    for data in (b"one", b"two", b"two"):
        write_whole(path, data)
    assert backup_of(path).read_bytes() == b"one"


def test_without_backup_there_is_none(tmp_path: Path) -> None:
    path = tmp_path / "site.json.journal"
    write_whole(path, b"one", backup=False)
    write_whole(path, b"two", backup=False)
    assert [p.name for p in tmp_path.iterdir()] == ["site.json.journal"]


@posix
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_mode_bits_survive(tmp_path: Path, mode: int) -> None:
    path = tmp_path / "site.json"
    path.write_bytes(b"one")
    path.chmod(mode)
    write_whole(path, b"two")
    assert path.stat().st_mode & 0o7777 == mode
    assert backup_of(path).stat().st_mode & 0o7777 == mode


@posix
def test_a_new_file_gets_what_the_umask_allows(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_whole(tmp_path / "site.json", b"one")
    finally:
        os.umask(before)
    assert (tmp_path / "site.json").stat().st_mode & 0o777 == 0o640


@posix
def test_a_symbolic_link_survives_and_its_file_is_written(tmp_path: Path) -> None:
    real = tmp_path / "real"
    real.mkdir()
    (real / "site.json").write_bytes(b"one")
    middle = tmp_path / "middle"
    middle.symlink_to(Path("real") / "site.json")
    link = tmp_path / "link"
    link.symlink_to("middle")
    write_whole(link, b"two")
    assert link.is_symlink()
    assert middle.is_symlink()
    assert (real / "site.json").read_bytes() == b"two"
    assert (real / "site.json~").read_bytes() == b"one"


@posix
def test_a_write_protected_file_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "site.json"
    path.write_bytes(b"one")
    path.chmod(0o444)
    with pytest.raises(KeepingError, match="write-protected; allow writing to it"):
        write_whole(path, b"two")
    assert path.read_bytes() == b"one"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("gone/site.json", "not there; bring it back"),
        ("x" * 300, "name is too long; choose a shorter"),
        ("", "it is a folder; choose the name of a file"),
    ],
)
@posix
def test_real_refusals_say_what_helps(tmp_path: Path, name: str, words: str) -> None:
    with pytest.raises(KeepingError, match=words):
        write_whole(tmp_path / name, b"one")
    assert list(tmp_path.iterdir()) == []


@posix
def test_a_ring_of_links_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    with pytest.raises(KeepingError, match="the system said"):
        write_whole(tmp_path / "a", b"one")


@posix
def test_a_long_name_leaves_room_for_the_temporary_file(tmp_path: Path) -> None:
    path = tmp_path / ("ä" * 126)  # 252 bytes: with the mark of the backup 253
    write_whole(path, b"one")
    write_whole(path, b"two")
    assert path.read_bytes() == b"two"
    assert backup_of(path).read_bytes() == b"one"


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (errno.ENOSPC, "the disk is full; free some space"),
        (errno.EACCES, "no right to do that there; choose another folder"),
        (errno.EIO, "input or output error; choose a folder on another disk"),
    ],
)
def test_a_reason_and_what_helps(code: int, words: str) -> None:
    sentence = explain("writing", Path("fields") / "site.json", OSError(code, os.strerror(code)))
    assert sentence.startswith("site.json in fields: writing failed because ")
    assert words in sentence


def test_short_writes_are_gone_on_with(tmp_path: Path) -> None:
    class Dribbling(FileCalls):
        def write(self, descriptor: int, data: memoryview) -> int:
            return super().write(descriptor, data[:7])

    data = bytes(range(256)) * 3
    write_whole(tmp_path / "site.json", data, calls=Dribbling())
    assert (tmp_path / "site.json").read_bytes() == data


def test_a_disk_that_takes_nothing_is_an_error_and_not_a_wait(tmp_path: Path) -> None:
    class Deaf(FileCalls):
        def write(self, descriptor: int, data: memoryview) -> int:
            return 0

    with pytest.raises(KeepingError, match="input or output error"):
        write_whole(tmp_path / "site.json", b"one", calls=Deaf())
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_writes_something_else_never_touches_the_old_file(tmp_path: Path) -> None:
    class Flipping(FileCalls):
        def write(self, descriptor: int, data: memoryview) -> int:
            return super().write(descriptor, memoryview(bytes(b ^ 1 for b in data)))

    path = tmp_path / "site.json"
    path.write_bytes(b"one")
    with pytest.raises(KeepingError, match="not what was written, and the version before is untouched"):
        write_whole(path, b"two", calls=Flipping())
    assert path.read_bytes() == b"one"
    assert [p.name for p in tmp_path.iterdir()] == ["site.json"]


class SpoiledInPlace(FileCalls):
    """The new version is spoiled after it was moved into place."""

    def __init__(self, spoiled: Path, *, links: bool = True, puts_back: bool = True) -> None:
        self._spoiled = spoiled
        self._links = links
        self._puts_back = puts_back
        self._moved = False

    def replace(self, source: Path, target: Path) -> None:
        if self._moved and not self._puts_back:
            raise OSError(errno.EIO, "broken")
        super().replace(source, target)
        if target == self._spoiled and not self._moved:
            self._moved = True
            target.write_bytes(b"rubbish")

    def link(self, there: Path, new: Path) -> None:
        if not self._links:
            raise OSError(errno.EPERM, "no links here")
        super().link(there, new)


@pytest.mark.parametrize("links", [True, False])
def test_a_bad_read_back_puts_the_old_file_back(tmp_path: Path, links: bool) -> None:
    path = tmp_path / "site.json"
    path.write_bytes(b"one")
    with pytest.raises(KeepingError, match="the version before was put back"):
        write_whole(path, b"two", calls=SpoiledInPlace(path, links=links))
    assert path.read_bytes() == b"one"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["site.json", "site.json~"]


def test_a_bad_read_back_that_cannot_be_undone_says_where_the_old_file_is(tmp_path: Path) -> None:
    path = tmp_path / "site.json"
    path.write_bytes(b"one")
    with pytest.raises(KeepingError, match=r"the version before is in site\.json~"):
        write_whole(path, b"two", calls=SpoiledInPlace(path, puts_back=False))
    assert backup_of(path).read_bytes() == b"one"


def test_a_bad_read_back_of_a_new_file_removes_it(tmp_path: Path) -> None:
    with pytest.raises(KeepingError, match="the file was removed again"):
        write_whole(tmp_path / "site.json", b"two", calls=SpoiledInPlace(tmp_path / "site.json"))
    assert list(tmp_path.iterdir()) == []


def test_without_links_the_version_before_is_copied(tmp_path: Path) -> None:
    path = tmp_path / "site.json"
    path.write_bytes(b"one")
    calls = SpoiledInPlace(tmp_path / "another", links=False)
    write_whole(path, b"two", calls=calls)
    assert (path.read_bytes(), backup_of(path).read_bytes()) == (b"two", b"one")


def part_of(name: str, pid: int, folder: Path) -> Path:
    """The temporary file that a process of this host would write, as one that was killed leaves it."""
    seen: list[str] = []

    class Listening(FileCalls):
        def create(self, path: Path, mode: int) -> int:
            seen.append(path.name)
            return super().create(path, mode)

    write_whole(folder / name, b"x", calls=Listening())
    (folder / name).unlink()
    part = folder / seen[0].replace(f"-{os.getpid()}-", f"-{pid}-")
    part.write_bytes(b"half")
    return part


def dead_pid() -> int:
    child = subprocess.Popen([sys.executable, "-c", ""])
    child.wait()
    return child.pid


def test_what_a_dead_process_left_is_removed_and_nothing_else(tmp_path: Path) -> None:
    stray = part_of("site.json", dead_pid(), tmp_path)
    own = part_of("site.json", os.getpid(), tmp_path)  # the number of a process before us
    for name in ("site.json", ".site.json.stillfield-part", ".hidden", "a.stillfield-part"):
        (tmp_path / name).write_bytes(b"not ours")
    assert set(clean_strays(tmp_path)) == {stray, own}
    left = sorted(p.name for p in tmp_path.iterdir())
    assert left == [".hidden", ".site.json.stillfield-part", "a.stillfield-part", "site.json"]


def test_what_a_living_process_writes_stays_unless_its_lock_is_ours(tmp_path: Path) -> None:
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as child:
        part = part_of("site.json", child.pid, tmp_path)
        assert clean_strays(tmp_path) == ()
        assert clean_strays(tmp_path, locked=["another.json"]) == ()
        assert part.exists()
        assert clean_strays(tmp_path, locked=["site.json"]) == (part,)
        child.communicate(b"\n")


def test_what_another_host_writes_stays(tmp_path: Path) -> None:
    part = tmp_path / f".site.json.00000000-{dead_pid()}-0123abcd.stillfield-part"
    part.write_bytes(b"half")
    assert clean_strays(tmp_path) == ()
    assert part.exists()


def test_a_write_under_way_in_this_process_is_not_a_stray(tmp_path: Path) -> None:
    class Cleaning(FileCalls):
        def sync(self, descriptor: int) -> None:
            assert len([p for p in tmp_path.iterdir() if p.name.endswith("-part")]) == 1
            assert clean_strays(tmp_path, locked=["site.json"]) == ()
            super().sync(descriptor)

    write_whole(tmp_path / "site.json", b"one", calls=Cleaning())
    assert (tmp_path / "site.json").read_bytes() == b"one"


def test_a_stray_that_cannot_be_removed_now_goes_at_the_next_start(tmp_path: Path) -> None:
    class Stuck(FileCalls):
        def unlink(self, path: Path) -> None:
            raise OSError(errno.EIO, "broken")

        def sync(self, descriptor: int) -> None:
            raise OSError(errno.EIO, "broken")

    with pytest.raises(KeepingError):
        write_whole(tmp_path / "site.json", b"one", calls=Stuck())
    assert clean_strays(tmp_path, calls=Stuck()) == ()
    assert len(list(tmp_path.iterdir())) == 1
    assert len(clean_strays(tmp_path)) == 1
    assert list(tmp_path.iterdir()) == []


def test_cleaning_a_folder_that_is_gone_is_no_error(tmp_path: Path) -> None:
    assert clean_strays(tmp_path / "gone") == ()


def test_keeping_imports_little() -> None:
    """The start of the program, and a thousand kill tests, pay for every import here."""
    heavy = "numpy pydantic pandas scipy shapely filelock platformdirs PySide6"
    code = f"import sys, studio.keep, studio.files.journal; print([m for m in '{heavy}'.split() if m in sys.modules])"
    root = Path(studio.__file__).parent.parent
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=root)
    assert done.stdout.strip() == "[]"
