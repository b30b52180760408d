"""A zip that was sent is unpacked within bounds, or refused in a sentence; nothing is left. All of it is invented."""

from __future__ import annotations

import io
import os
import random
import shutil
import struct
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from bevelbook.declare.error_codes import code_in_words
from bevelbook.declare.errors import DatabaseError
from bevelbook.meeting import unzipped as module
from bevelbook.meeting.unzipped import ONLY_FILE, unzipped

TWO = {"datapackage.json": b"{}", "builds.csv": b"id,label\n" * 100}


def packed(files: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as made:
        for name, held in files.items():
            made.writestr(name, held)
    return out.getvalue()


def entry(name: str | bytes, held: bytes, **other: int) -> tuple[bytes, bytes, bytes]:
    """An entry with whatever fields a test wants: its head, its bytes, and its line of the list (without the place)."""
    called = name if isinstance(name, bytes) else name.encode()
    flags, method = other.get("flags", 0x800), other.get("method", 0)
    checksum = other.get("checksum", zlib.crc32(held))
    said = (other.get("packed", len(held)), other.get("unpacked", len(held)))
    both = struct.pack("<5H3L2H", 20, flags, method, 0, 33, checksum, *said, len(called), 0)
    listed = struct.pack("<3HL", 0, 0, 0, other.get("mode", 0) << 16)
    return b"PK\3\4" + both + called, held, b"PK\1\2\x14\3" + both + listed + b"{at}" + called


def joined(*entries: tuple[bytes, bytes, bytes], places: list[int] | None = None, count: int | None = None) -> bytes:
    """A zip of such entries; ``places`` says otherwise where they lie."""
    out, found = b"", []
    for head, held, _ in entries:
        found.append(len(out))
        out += head + held
    listed = b"".join(
        one[2].replace(b"{at}", struct.pack("<L", place)) for one, place in zip(entries, places or found, strict=True)
    )
    said = len(entries) if count is None else count
    return out + listed + struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, said, said, len(listed), len(out), 0)


def refused(tmp_path: Path, held: bytes, code: str, word: str = "") -> None:
    path, folder = tmp_path / "bo.zip", tmp_path / "aside"
    path.write_bytes(held)
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    with pytest.raises(DatabaseError) as caught:
        unzipped(path, folder)
    assert caught.value.code == code, str(caught.value)
    assert code_in_words(code)
    assert word in str(caught.value)
    assert str(caught.value).startswith("bo.zip")
    assert "Nothing was changed" in str(caught.value)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["aside", "bo.zip"]


def taken(tmp_path: Path, held: bytes) -> dict[str, bytes]:
    path, folder = tmp_path / "bo.zip", tmp_path / "aside"
    path.write_bytes(held)
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    found = unzipped(path, folder)
    if found.is_file():
        return {found.name: found.read_bytes()}
    return {one.relative_to(found).as_posix(): one.read_bytes() for one in sorted(found.rglob("*")) if one.is_file()}


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_an_export_comes_out_as_it_went_in(tmp_path: Path, method: int) -> None:
    files = {**TWO, "files/0a": b"x" * 70_000, "pictures/1b.small.jpg": random.Random(1).randbytes(200_000)}
    assert taken(tmp_path, packed(files, method)) == files


def test_a_folder_around_it_and_what_a_computer_adds_make_no_difference(tmp_path: Path) -> None:
    around = {f"Bo's weekend/{name}": held for name, held in TWO.items()}
    added = {"__MACOSX/Bo's weekend/._builds.csv": b"x", "Bo's weekend/.DS_Store": b"y"}
    assert taken(tmp_path, packed({**around, **added})) == TWO


def test_several_databases_in_one_zip_are_named(tmp_path: Path) -> None:
    head = b"SQLite format 3\0" + bytes(100)
    both = {"Our team/bo.db": head, "Our team/cy's own.db": head, "Our team/read me.txt": b"x"}
    refused(tmp_path, packed(both), "zip_refused", "there are 2 databases in it: ")
    refused(tmp_path, packed(both), "zip_refused", "cy's own.db")


def test_a_file_without_known_sizes_in_its_head_comes_out(tmp_path: Path) -> None:
    """As programs write that cannot go back: the sizes follow the bytes, and only the list has them beforehand."""

    class OneWay(io.BytesIO):
        def seekable(self) -> bool:
            return False

        def seek(self, *_: int) -> int:
            raise OSError

        def tell(self) -> int:
            raise OSError

    out = OneWay()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, held in TWO.items():
            made.writestr(name, held)
    assert taken(tmp_path, out.getvalue()) == TWO


def test_a_single_file_is_taken_whatever_its_name(tmp_path: Path) -> None:
    assert taken(tmp_path, packed({"Bo's Buch ä.db": b"SQLite format 3"})) == {ONLY_FILE: b"SQLite format 3"}


NAMES = {
    "up": "../x.csv",
    "up inside": "a/../../x.csv",
    "absolute": "/etc/x.csv",
    "a drive": "C:x.csv",
    "a drive and a folder": "C:/x.csv",
    "folders of another system": "a\\b.csv",
    "nothing between": "a//b.csv",
    "here": "./a.csv",
    "a control character": "a\x1b[2J.csv",
    "a line break": "a\n.csv",
    "backwards": "a\u202ecsv",
    "a dot at its end": "a.",
    "a space at its end": "a.csv ",
    "too deep": "a/b/c/d/e/f.csv",
    "too long": "a" * 600,
    "hidden": ".bashrc",
    "letters of no export": "builds ä.csv",
}


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_a_name_that_leads_elsewhere_is_refused(tmp_path: Path, name: str) -> None:
    refused(tmp_path, joined(entry("a.csv", b"x"), entry(name, b"y")), "zip_refused")


def test_a_name_that_ends_early_for_some_is_refused(tmp_path: Path) -> None:
    refused(tmp_path, joined(entry("a.csv", b"x"), entry(b"b.csv\0.exe", b"y")), "zip_refused")


def test_a_name_that_is_not_text_is_refused(tmp_path: Path) -> None:
    refused(tmp_path, joined(entry(b"\xff\xfe.csv", b"y"), entry("a.csv", b"x")), "zip_damaged")


@pytest.mark.parametrize("pair", [("a.csv", "a.csv"), ("a.csv", "A.CSV"), ("a.csv", "a.csv/b.csv"), ("a/b.csv", "a")])
def test_two_things_of_one_name_are_refused(tmp_path: Path, pair: tuple[str, str]) -> None:
    refused(tmp_path, joined(*(entry(name, b"x") for name in pair)), "zip_refused")


@pytest.mark.parametrize("mode", [0o120777, 0o010644, 0o020644, 0o060644, 0o140755])
def test_links_pipes_and_devices_are_refused(tmp_path: Path, mode: int) -> None:
    refused(tmp_path, joined(entry("a.csv", b"/etc/passwd", mode=mode)), "zip_refused", "not a file")


def test_a_password_is_refused(tmp_path: Path) -> None:
    refused(tmp_path, joined(entry("a.csv", b"x", flags=0x801)), "zip_refused", "password")


def test_another_way_of_packing_is_refused(tmp_path: Path) -> None:
    refused(tmp_path, packed(TWO, zipfile.ZIP_LZMA), "zip_refused", "packed in a way")


def test_what_unpacks_to_too_much_is_refused_before_it_is_on_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "BESIDE_BYTES", 100_000)
    refused(tmp_path, packed({"a.csv": b"0" * 10_000_000, **TWO}), "zip_too_big", "50 MB")
    assert sum(one.stat().st_size for one in (tmp_path / "aside").rglob("*") if one.is_file()) < 2_500_000


def test_many_small_ones_are_too_much_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "BESIDE_BYTES", 0)
    monkeypatch.setattr(module, "LARGEST_UNPACKED_BYTES", 3_000_000)
    refused(tmp_path, packed({f"{number}.csv": b"0" * 100_000 for number in range(40)}), "zip_too_big")


def test_more_than_it_says_is_refused_where_it_begins(tmp_path: Path) -> None:
    held = zlib.compressobj(9, zlib.DEFLATED, -15)
    bomb = held.compress(b"0" * 5_000_000) + held.flush()
    refused(tmp_path, joined(entry("a.csv", bomb, method=8, unpacked=10)), "zip_damaged", "not what its list says")
    (left,) = [one for one in (tmp_path / "aside").rglob("*") if one.is_file()]
    assert left.stat().st_size == 0


def test_files_that_lie_over_each_other_are_refused(tmp_path: Path) -> None:
    inner = entry("b.csv", b"x" * 100)
    outer = entry("a.csv", inner[0] + inner[1])
    whole = joined(outer, inner, places=[0, len(outer[0])])
    refused(tmp_path, whole, "zip_refused", "lies over another")


def test_one_file_under_many_names_is_refused(tmp_path: Path) -> None:
    first = entry("a.csv", b"x")
    refused(tmp_path, joined(first, (b"", b"", first[2].replace(b"a.csv", b"b.csv")), places=[0, 0]), "zip_refused")


def test_a_list_that_says_otherwise_than_the_files_is_refused(tmp_path: Path) -> None:
    head, held, listed = entry("a.csv", b"x")
    refused(tmp_path, joined((head, held, listed.replace(b"a.csv", b"b.csv"))), "zip_damaged", "listed otherwise")


def test_a_wrong_checksum_is_damage(tmp_path: Path) -> None:
    refused(tmp_path, joined(entry("a.csv", b"x", checksum=1)), "zip_damaged")


def test_too_many_files_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_FILES", 1)
    refused(tmp_path, packed(TWO), "zip_too_big")


@pytest.mark.parametrize(
    "spoilt",
    [
        lambda held: held[:-1],
        lambda held: held[: len(held) // 2],
        lambda held: held + b"x",
        lambda held: b"x" + held,
        lambda held: held[:-2] + b"\1\0x",
        lambda held: held[:-12] + b"\xff\xff" + held[-10:],
        lambda _held: b"PK\3\4",
        lambda _held: b"",
    ],
    ids=["a byte less", "half", "more behind", "more before", "a comment", "a longer list", "a head alone", "empty"],
)
def test_a_zip_that_is_not_whole_is_refused(tmp_path: Path, spoilt: Callable[[bytes], bytes]) -> None:
    refused(tmp_path, spoilt(packed(TWO)), "zip_damaged")


def test_a_zip_of_nothing_is_refused(tmp_path: Path) -> None:
    refused(tmp_path, packed({}), "zip_refused", "holds no file")


def test_flips_and_cuts_end_in_a_sentence_or_in_the_same_files(tmp_path: Path) -> None:
    """40 of each here; some thousands were tried by hand."""
    draw = random.Random(7)
    whole = packed({**TWO, "files/0a": draw.randbytes(3_000)})
    path, folder = tmp_path / "bo.zip", tmp_path / "aside"
    for number in range(int(os.environ.get("BEVELBOOK_FLIPS", "80"))):
        held = bytearray(whole)
        if number % 2:
            del held[draw.randrange(len(held)) :]
        else:
            for _ in range(draw.randint(1, 4)):
                held[draw.randrange(len(held))] ^= 1 << draw.randrange(8)
        path.write_bytes(held)
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        try:
            unzipped(path, folder)
        except DatabaseError as fault:
            assert fault.code.startswith("zip_")
        for one in tmp_path.rglob("*"):
            assert one == path or one.is_relative_to(folder)
