"""A file that pairband writes never takes the place of what is the owner's."""

import os
from pathlib import Path

import pytest

from pipeline import outfile
from pipeline.errors import ReportError
from pipeline.outfile import give_free_name, guarding, refuse_place, write_file, write_new_file


@pytest.fixture(autouse=True)
def own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.fixture
def page(tmp_path: Path) -> Path:
    return tmp_path / "page.html"


def test_a_page_that_pairband_wrote_is_replaced(page: Path) -> None:
    write_file(b"first", page)
    write_file(b"second", page)
    assert page.read_bytes() == b"second"


def test_a_file_that_pairband_did_not_write_is_left_alone(page: Path) -> None:
    page.write_bytes(b"the owner's own")
    with pytest.raises(ReportError, match=r"pairband did not write it.*\n.*--force"):
        write_file(b"a page", page)
    assert page.read_bytes() == b"the owner's own"


def test_a_page_that_the_owner_changed_is_left_alone(page: Path) -> None:
    write_file(b"a page", page)
    page.write_bytes(b"a page, with my notes")
    with pytest.raises(ReportError, match="changed since"):
        write_file(b"a page of today", page)


def test_force_replaces_a_file_that_pairband_did_not_write(page: Path) -> None:
    page.write_bytes(b"the owner's own")
    with guarding([], force=True):
        write_file(b"a page", page)
    assert page.read_bytes() == b"a page"


def test_the_same_bytes_may_be_written_again_by_whoever_wrote_them(page: Path) -> None:
    page.write_bytes(b"a page")
    assert write_file(b"a page", page).read_bytes() == b"a page"


@pytest.mark.parametrize("force", [False, True])
def test_what_the_owner_keeps_is_never_written_over(page: Path, force: bool) -> None:
    page.write_bytes(b"ledger")
    with guarding([(page, "the ledger")], force=force), pytest.raises(ReportError, match="is the ledger"):
        write_file(b"a page", page)


def test_what_the_owner_keeps_is_known_by_another_name_too(page: Path, tmp_path: Path) -> None:
    page.write_bytes(b"ledger")
    other = tmp_path / "other.html"
    other.hardlink_to(page)
    with guarding([(page, "the ledger")], force=True), pytest.raises(ReportError, match="is the ledger"):
        write_file(b"a page", other)


def test_a_log_that_is_not_there_yet_is_not_made(tmp_path: Path) -> None:
    log = tmp_path / "pairband.duckdb.wal"
    with guarding([(log, "the ledger's log")], force=True), pytest.raises(ReportError, match="ledger's log"):
        write_file(b"a page", tmp_path / "sub" / ".." / "pairband.duckdb.wal")
    assert not log.exists()


def test_a_link_is_not_written_through(page: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "market.toml"
    elsewhere.write_bytes(b"mine")
    page.symlink_to(elsewhere)
    with guarding([], force=True), pytest.raises(ReportError, match="is a link to"):
        write_file(b"a page", page)
    assert elsewhere.read_bytes() == b"mine"


def test_a_folder_is_no_place_for_a_page(page: Path) -> None:
    page.mkdir()
    with pytest.raises(ReportError, match="is a folder"):
        refuse_place(page)


def test_a_pipe_is_no_place_for_a_page(page: Path) -> None:
    os.mkfifo(page)
    with pytest.raises(ReportError, match="not a plain file"):
        refuse_place(page)


def test_a_name_of_300_signs_is_reported_in_words(tmp_path: Path) -> None:
    with pytest.raises(ReportError, match="cannot be written: File name too long"):
        write_file(b"a page", tmp_path / ("a" * 300))


@pytest.fixture
def full_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(part: Path, content: bytes) -> None:
        part.write_bytes(content[:2])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(outfile, "_write_through", stop)


@pytest.mark.usefixtures("full_disk")
def test_a_full_disk_leaves_the_page_of_before(page: Path) -> None:
    page.write_bytes(b"before")
    with guarding([], force=True), pytest.raises(ReportError, match=r"No space left.*\nmake room"):
        write_file(b"after", page)
    assert [(path.name, path.read_bytes()) for path in page.parent.iterdir()] == [("page.html", b"before")]


@pytest.mark.usefixtures("full_disk")
def test_a_full_disk_leaves_no_half_of_a_starter(page: Path) -> None:
    with pytest.raises(ReportError, match="No space left"):
        write_new_file(b"starter", page)
    assert list(page.parent.iterdir()) == []


def test_a_starter_never_replaces_a_market_file(page: Path) -> None:
    page.write_bytes(b"mine")
    with guarding([], force=True), pytest.raises(ReportError, match="is there already; nothing was written"):
        write_new_file(b"starter", page)


def test_a_replaced_page_keeps_who_may_read_it(page: Path) -> None:
    write_file(b"first", page)
    page.chmod(0o600)
    write_file(b"second", page)
    assert page.stat().st_mode & 0o777 == 0o600


def test_where_nothing_can_be_remembered_a_page_is_written_all_the_same(
    page: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", "/dev/null")
    assert write_file(b"a page", page).read_bytes() == b"a page"


def _no_links(*_arguments: object, **_named: object) -> None:
    raise PermissionError(1, "Operation not permitted")


def test_a_starter_is_written_on_a_disk_without_links(page: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "link", _no_links)
    write_new_file(b"starter", page)
    assert [(path.name, path.read_bytes()) for path in page.parent.glob("[!s]*")] == [
        ("page.html", b"starter")
    ]


def test_a_name_taken_meanwhile_is_not_written_over_on_a_disk_without_links(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "link", _no_links)
    page.write_bytes(b"mine")
    part = tmp_path / "part"
    part.write_bytes(b"starter")
    with pytest.raises(FileExistsError, match="a file is there already"):
        give_free_name(part, page)
    assert page.read_bytes() == b"mine"
