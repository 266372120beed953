"""The care of the ledger at the desk: examined, copied, brought back, compacted, reported."""

from pathlib import Path

from pipeline.desk.calls import call
from pipeline.desk.care import copies_there
from tests.desk_client import OpenDesk


def copied(opened: OpenDesk) -> str:
    opened.client.post("/care/backup", follow_redirects=False)
    assert not opened.wait().result.fault
    return copies_there(opened.desk)[0].sha256


def test_a_folder_without_a_ledger_says_so(shop_desk: OpenDesk) -> None:
    assert "no ledger yet" in shop_desk.client.get("/care").text


def test_the_ledger_is_examined_as_by_the_doctor(read_desk: OpenDesk) -> None:
    begun = read_desk.client.get("/care/examine")
    read_desk.settle()

    assert begun.status_code == 200
    assert "no copy of the ledger is known" in read_desk.client.get("/care/examine").text


def test_a_copy_is_made_listed_and_downloaded(read_desk: OpenDesk) -> None:
    digest = copied(read_desk)

    assert f"/care/copy/{digest}" in read_desk.client.get("/care").text
    kept = read_desk.client.get(f"/care/copy/{digest}")
    assert kept.headers["content-disposition"].startswith("attachment")
    assert kept.content == next(Path("copies").glob("*.duckdb")).read_bytes()


def test_a_copy_comes_back_once_the_owner_says_yes(read_desk: OpenDesk) -> None:
    digest = copied(read_desk)
    assert not call("remove", ["--yes", "--", read_desk.record()]).fault
    asked = read_desk.client.get(f"/care/recover?copy={digest}")
    assert "kept beside them" in asked.text
    assert read_desk.desk.state(60).records == 4

    read_desk.client.post("/care/recover", data={"copy": digest}, follow_redirects=False)

    assert not read_desk.wait().result.fault
    assert read_desk.desk.state(60).records == 5


def test_what_is_no_copy_of_the_list_does_not_come_back(read_desk: OpenDesk) -> None:
    for copy in ("", "../market.toml", "/etc/passwd"):
        assert read_desk.client.post("/care/recover", data={"copy": copy}).status_code == 404
        assert read_desk.client.get("/care/recover", params={"copy": copy}).status_code == 404


def test_the_ledger_is_compacted_once_the_owner_says_yes(read_desk: OpenDesk) -> None:
    assert "cannot be brought back" in read_desk.client.get("/care/compact").text

    read_desk.client.post("/care/compact", follow_redirects=False)

    assert not read_desk.wait().result.fault
    assert read_desk.desk.state(60).records == 5


def test_reports_that_cannot_be_built_say_why(read_desk: OpenDesk) -> None:
    begun = read_desk.client.post("/care/report", follow_redirects=False)
    read_desk.settle()

    assert "holds no fit yet" in read_desk.client.get(begun.headers["location"]).text


def test_the_page_says_where_the_reports_lie(read_desk: OpenDesk) -> None:
    assert "They lie in" not in read_desk.client.get("/care").text

    Path("reports").mkdir()
    Path("reports/index.html").write_text("built", encoding="utf-8")

    assert str(Path("reports").resolve()) in read_desk.client.get("/care").text
