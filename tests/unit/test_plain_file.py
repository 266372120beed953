"""Small files of the owner's are plain files: whatever else a name leads to is refused in words, at once."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.config import load_market
from pipeline.errors import ExportError, MarketFileError, PairbandError
from pipeline.ingest.rates import owner_rates
from pipeline.plain_file import read_plain_file, read_plain_text

Read = Callable[[Path], object]
Fault = type[PairbandError]
READERS: list[tuple[Read, Fault, str]] = [
    (load_market, MarketFileError, "market file"),
    (owner_rates, ExportError, "rate file"),
]
"""Each reader with what it raises and what it calls the file."""


@pytest.mark.parametrize(("read", "fault", "what"), READERS)
def test_a_pipe_is_refused_and_not_waited_for(read: Read, fault: Fault, what: str, tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(fault, match=rf"the {what} .*pipe is not a plain file: it is a pipe"):
        read(pipe)


@pytest.mark.parametrize(("read", "fault", "what"), READERS)
def test_a_device_without_an_end_is_refused(read: Read, fault: Fault, what: str) -> None:
    with pytest.raises(fault, match=rf"the {what} /dev/zero is not a plain file: it is a device"):
        read(Path("/dev/zero"))


@pytest.mark.parametrize(("read", "fault", "what"), READERS)
def test_a_folder_is_refused(read: Read, fault: Fault, what: str, tmp_path: Path) -> None:
    with pytest.raises(fault, match=rf"the {what} .* is not a plain file: it is a folder"):
        read(tmp_path)


@pytest.mark.parametrize(("read", "fault", "what"), READERS)
def test_a_name_of_three_hundred_signs_is_reported(
    read: Read, fault: Fault, what: str, tmp_path: Path
) -> None:
    with pytest.raises(fault, match=rf"the {what} .* cannot be read: File name too long"):
        read(tmp_path / ("n" * 300))


@pytest.mark.parametrize(("read", "fault", "what"), READERS)
def test_a_name_that_no_system_can_have_is_reported(read: Read, fault: Fault, what: str) -> None:
    with pytest.raises(fault, match=rf"(?s)the {what} .* cannot be read: embedded null"):
        read(Path("a\0b"))


@pytest.mark.parametrize(("read", "fault", "what"), READERS)
def test_a_folder_that_may_not_be_entered_is_reported(
    read: Read, fault: Fault, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_arguments: object, **_options: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "stat", refused)
    with pytest.raises(fault, match=rf"the {what} locked/file cannot be read: Permission denied"):
        read(Path("locked/file"))


def test_a_link_is_followed_to_the_file_that_it_names(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"text")
    (tmp_path / "link").symlink_to(tmp_path / "file")
    assert read_plain_file(tmp_path / "link", "note", 4) == b"text"


def test_a_file_larger_than_what_is_read_is_reported_with_the_most(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"text")
    with pytest.raises(PairbandError, match=r"the note .* is too large: 3 bytes are the most"):
        read_plain_file(tmp_path / "file", "note", 3)


def test_a_byte_order_mark_is_no_part_of_the_text(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"\xef\xbb\xbftext")
    assert read_plain_text(tmp_path / "file", "note", 10) == "text"


def test_a_text_that_is_not_utf_8_is_reported_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes("plain\nGröße".encode("cp1252"))
    with pytest.raises(
        PairbandError, match=r"cannot be read: line 2 is not UTF-8 text\nsave it again as UTF-8"
    ):
        read_plain_text(tmp_path / "file", "note", 100)
