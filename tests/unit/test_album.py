"""Which photograph is of which pair, and that none is read from outside the owner's folder."""

import os
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from pipeline.market.pair import Pair
from pipeline.pictures import album
from pipeline.pictures.album import Album


def save(path: Path, width: int = 8) -> Path:
    """Save a picture so many pixels wide, by which a test knows it again."""
    path.parent.mkdir(parents=True, exist_ok=True)
    written = BytesIO()
    Image.new("RGB", (width, 4)).save(written, "PNG")
    path.write_bytes(written.getvalue())
    return path


def widths(found: Album, number: str, *named: str, most: int = 9) -> list[int]:
    pair = Pair("Gannet Hi", label=number, pictures=named)
    return [one.width for one in found.photographs(pair, longest=640, most=most)]


def note_of(found: Album, number: str, *named: str) -> str:
    assert widths(found, number, *named) == []
    [note] = found.notes
    return note


@pytest.mark.parametrize(
    "name", ["A12.jpg", "a12.PNG", "A12-2.jpg", "A12_sole.jpg", "A12 (3).jpg", "A12(3).webp", "A12 heel.jpeg"]
)
def test_a_picture_whose_name_begins_with_the_stock_number_is_of_that_pair(name: str, tmp_path: Path) -> None:
    save(tmp_path / name)
    assert widths(Album(tmp_path, ["A12"]), "A12") == [8]


@pytest.mark.parametrize("name", ["A1.jpg", "A123.jpg", "A12b.jpg", "BA12.jpg", "A12.txt", ".A12.jpg"])
def test_a_picture_of_another_number_is_not_taken(name: str, tmp_path: Path) -> None:
    save(tmp_path / name)
    assert widths(Album(tmp_path, ["A12"]), "A12") == []


def test_the_longer_of_two_stock_numbers_has_the_picture(tmp_path: Path) -> None:
    save(tmp_path / "A1-2.jpg")
    found = Album(tmp_path, ["A1", "A1-2"])
    assert (widths(found, "A1"), widths(found, "A1-2")) == ([], [8])


def test_pictures_stand_in_the_order_of_their_numbers(tmp_path: Path) -> None:
    for name, width in (("A12-10.jpg", 4), ("A12-2.jpg", 3), ("A12.jpg", 2)):
        save(tmp_path / name, width)
    assert widths(Album(tmp_path, ["A12"]), "A12") == [2, 3, 4]


def test_no_more_pictures_are_read_than_are_asked_for(tmp_path: Path) -> None:
    save(tmp_path / "A12.jpg")
    (tmp_path / "A12-2.jpg").write_text("no picture")
    found = Album(tmp_path, ["A12"])
    assert (widths(found, "A12", most=1), found.notes) == ([8], ())


def test_pictures_that_the_list_names_go_before_those_of_the_number(tmp_path: Path) -> None:
    save(tmp_path / "A12.jpg", 2)
    save(tmp_path / "may" / "0815.jpg", 3)
    assert widths(Album(tmp_path, ["A12"]), "A12", "may/0815.jpg") == [3]


def test_a_pair_without_a_number_has_no_picture_by_name(tmp_path: Path) -> None:
    save(tmp_path / "-2.jpg")
    assert widths(Album(tmp_path, ["", "A12"]), "") == []


@pytest.mark.parametrize(
    "name",
    [
        "../secret.png", "../../secret.png", "may/../../secret.png", "..\\secret.png", "/etc/secret.png",
        "C:\\secret.png", "\\\\server\\secret.png",
    ],
)  # fmt: skip
def test_a_path_out_of_the_folder_is_refused_and_not_read(name: str, tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "pictures"
    folder.mkdir(parents=True)
    for outside in (tmp_path, tmp_path / "deep"):
        save(outside / "secret.png")
    assert "lies outside the folder" in note_of(Album(folder, ["A12"]), "A12", name)


def test_a_full_path_to_a_picture_outside_is_refused(tmp_path: Path) -> None:
    (tmp_path / "pictures").mkdir()
    secret = save(tmp_path / "secret.png")
    assert "lies outside the folder" in note_of(Album(tmp_path / "pictures", []), "A12", str(secret))


def test_a_link_that_leads_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    secret = save(tmp_path / "secret.png")
    (tmp_path / "pictures").mkdir()
    (tmp_path / "pictures" / "A12.png").symlink_to(secret)
    assert "lies outside the folder" in note_of(Album(tmp_path / "pictures", ["A12"]), "A12")


def test_a_folder_of_pictures_may_itself_be_a_link(tmp_path: Path) -> None:
    save(tmp_path / "disk" / "A12.png")
    (tmp_path / "pictures").symlink_to(tmp_path / "disk")
    assert widths(Album(tmp_path / "pictures", ["A12"]), "A12") == [8]


def test_links_in_a_circle_are_no_file(tmp_path: Path) -> None:
    (tmp_path / "A12.png").symlink_to(tmp_path / "A12.png")
    assert "there is no such file" in note_of(Album(tmp_path, ["A12"]), "A12")


@pytest.mark.parametrize("name", ["not there.jpg", "a\0b.jpg", "x" * 300])
def test_a_named_picture_that_is_not_there_is_said(name: str, tmp_path: Path) -> None:
    assert "is not shown: " in note_of(Album(tmp_path, ["A12"]), "A12", name)


def test_an_address_on_the_net_is_never_read(tmp_path: Path) -> None:
    assert "it is an address" in note_of(Album(tmp_path, ["A12"]), "A12", "https://shop.example/a12.jpg")


def test_a_pipe_named_as_a_picture_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "A12.jpg")
    assert "it is not a plain file: it is a pipe" in note_of(Album(tmp_path, ["A12"]), "A12")


def test_a_file_larger_than_any_photograph_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(album, "MOST_BYTES", 50)
    save(tmp_path / "A12.png")
    assert "it is too large: 50 bytes are the most" in note_of(Album(tmp_path, ["A12"]), "A12")


def test_a_text_named_as_a_picture_is_said_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "A12.jpg").write_text("no picture")
    assert note_of(Album(tmp_path, ["A12"]), "A12") == (
        "The picture 'A12.jpg' is not shown: it is no JPEG, PNG or WebP picture; save it again as JPEG."
    )


def test_the_other_pictures_of_a_pair_are_shown_beside_a_damaged_one(tmp_path: Path) -> None:
    (tmp_path / "A12.jpg").write_text("no picture")
    save(tmp_path / "A12-2.jpg", 5)
    assert widths(Album(tmp_path, ["A12"]), "A12") == [5]


def test_a_folder_that_is_not_there_is_said_once(tmp_path: Path) -> None:
    found = Album(tmp_path / "pictures", ["A12", "A13"])
    assert "There are no pictures: the folder" in note_of(found, "A12")
    assert "There are no pictures: the folder" in note_of(found, "A13")


def test_names_in_a_list_without_a_folder_in_the_market_file_are_said() -> None:
    assert 'write folder = "pictures" under [pictures]' in note_of(Album(None, ["A12"]), "A12", "a.jpg")


def test_of_very_many_pictures_that_cannot_be_shown_ten_are_named(tmp_path: Path) -> None:
    found = Album(tmp_path, ["A12"])
    widths(found, "A12", *(f"{number}.jpg" for number in range(14)))
    assert (len(found.notes), found.notes[-1]) == (11, "4 more pictures are not shown.")
