"""A machine without Spark or without its Java is told which is missing, and where it was looked for."""

import importlib.util
from pathlib import Path

import pytest

from pipeline.errors import FitError
from pipeline.spark_session import require_java, spark_session

OLD = "#!/bin/sh\necho 'openjdk version \"1.8.0_402\"' >&2\n"


def _java(folder: Path, script: str) -> Path:
    program = folder / "bin" / "java"
    program.parent.mkdir()
    program.write_text(script)
    program.chmod(0o755)
    return folder


def test_without_spark_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)

    with pytest.raises(FitError, match=r'pip install "pairband\[spark\]"'), spark_session("local[2]"):
        pass


def test_without_java_its_version_and_the_place_are_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv("JAVA_HOME", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))

    with pytest.raises(FitError, match="needs Java 17 or later, and there is none \\(JAVA_HOME is not set"):
        require_java()


def test_a_java_home_without_java_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("JAVA_HOME", str(tmp_path))

    with pytest.raises(FitError, match=f"there is none \\(JAVA_HOME is {tmp_path}\\)"):
        require_java()


def test_a_java_that_is_too_old_is_named_with_its_version(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("JAVA_HOME", str(_java(tmp_path, OLD)))

    with pytest.raises(FitError, match=r"needs Java 17 or later, and .*bin/java is Java 8"):
        require_java()
