"""What is asked in a terminal."""

import signal

import click
import pytest

from pipeline.terminal.questions import agrees, choose


def test_a_question_is_asked_so_that_a_stop_ends_it_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[object] = []
    monkeypatch.setattr(signal, "siginterrupt", lambda *said: done.append(said))
    monkeypatch.setattr(click, "confirm", lambda *_, **__: done.append("asked"))
    agrees("Go on?")
    assert done == [(signal.SIGINT, True), "asked"]


@pytest.mark.parametrize("answer", ["²", "9", "0"])
def test_a_sign_that_numbers_no_choice_is_an_answer_of_its_own(
    answer: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.terminal.questions.ask", lambda *_, **__: answer)
    assert choose("Which?", (), ("one", "two")) == answer
