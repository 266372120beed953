"""Files that come into the desk: names of ours, whole or not at all, and nothing of what was there lost."""

import io
from pathlib import Path

import pytest

from pipeline.desk import reading_uploads
from pipeline.desk.reading_uploads import safe_name, take_in
from pipeline.errors import ExportError


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("../../x.csv", "x.csv"),
        ("C:\\exports\\x.csv", "x.csv"),
        ("a\0b.csv", "ab.csv"),
        (".hidden.csv", "hidden.csv"),
        ("...csv.csv", "csv.csv"),
        ("vendas 👟 março.csv", "vendas 👟 março.csv"),
        ("落札.xlsx", "落札.xlsx"),
        ("con.csv", "_con.csv"),
        ("LPT1.old.csv", "_LPT1.old.csv"),
        ('a<b>:"c|d?.csv', "a_b___c_d_.csv"),
        ("a[1].csv", "a(1).csv"),
        ("exe\u202ecod.csv", "execod.csv"),
        ("\n\t x  y .csv", "x y.csv"),
        ("e\u0301.csv", "\u00e9.csv"),
        ("X.CSV", "X.CSV"),
    ],
)
def test_an_export_is_kept_by_a_plain_name(said: str, kept: str) -> None:
    assert safe_name(said) == kept


@pytest.mark.parametrize("letter", ["a", "é", "靴", "👟"])
def test_a_long_name_is_cut_and_keeps_its_ending(letter: str) -> None:
    name = safe_name(letter * 300 + ".csv")
    assert name.endswith(f"{letter}.csv")
    assert len(name) <= 104
    assert len(name.encode()) <= 184


@pytest.mark.parametrize("said", ["", ".csv", "x.exe", "x", "..", "/", "x.csv/"])
def test_what_does_not_end_as_an_export_is_refused(said: str) -> None:
    with pytest.raises(ExportError, match="is no export"):
        safe_name(said)


def test_a_file_is_kept_whole(tmp_path: Path) -> None:
    assert take_in(tmp_path / "exports", "x.csv", io.BytesIO(b"a;b\n")).how == "new"
    assert (tmp_path / "exports" / "x.csv").read_bytes() == b"a;b\n"


def test_the_same_content_is_not_kept_twice(tmp_path: Path) -> None:
    take_in(tmp_path, "x.csv", io.BytesIO(b"a;b\n"))
    again = take_in(tmp_path, "y.csv", io.BytesIO(b"a;b\n"))
    assert (again.how, again.name) == ("same", "x.csv")
    assert [one.name for one in tmp_path.iterdir()] == ["x.csv"]


def test_a_file_of_the_same_name_moves_aside_and_is_never_lost(tmp_path: Path) -> None:
    for content in (b"one", b"two", b"three"):
        take_in(tmp_path, "x.csv", io.BytesIO(content))
    kept = {one.relative_to(tmp_path).as_posix(): one.read_bytes() for one in tmp_path.rglob("*.csv")}
    assert kept == {"x.csv": b"three", "earlier/x.csv": b"one", "earlier/x (2).csv": b"two"}


def test_a_file_that_is_too_large_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading_uploads, "LARGEST_FILE", 10)
    with pytest.raises(ExportError, match="more than 10 bytes"):
        take_in(tmp_path, "x.csv", io.BytesIO(b"a" * 11))
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_breaks_off_leaves_what_was_there(tmp_path: Path) -> None:
    class BreaksOff(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            raise OSError(5, "Input/output error")

    take_in(tmp_path, "x.csv", io.BytesIO(b"one"))
    with pytest.raises(ExportError, match="nothing was changed"):
        take_in(tmp_path, "x.csv", BreaksOff())
    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == [("x.csv", b"one")]


def test_a_link_in_the_folder_is_not_followed(tmp_path: Path) -> None:
    folder, outside = tmp_path / "exports", tmp_path / "outside.csv"
    folder.mkdir()
    outside.write_bytes(b"theirs")
    (folder / "x.csv").symlink_to(outside)
    take_in(folder, "x.csv", io.BytesIO(b"ours"))
    assert outside.read_bytes() == b"theirs"
