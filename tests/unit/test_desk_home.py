"""The first page of the desk: what there is, what awaits the owner, what to do next."""

from tests.desk_client import OpenDesk


def test_an_empty_folder_begins_with_the_first_steps(empty_desk: OpenDesk) -> None:
    shown = empty_desk.client.get("/")

    assert shown.url.path == "/start"


def test_records_that_were_read_are_counted(read_desk: OpenDesk) -> None:
    assert "<dt>Sale records</dt><dd>5</dd>" in read_desk.client.get("/").text


def test_the_demo_has_its_records(demo_desk: OpenDesk) -> None:
    assert demo_desk.desk.state().records > 5000
