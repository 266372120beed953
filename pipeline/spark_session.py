"""Spark, started when it is asked for: quiet, on this machine or on a cluster, and its errors in words.

What Spark and its Java say of themselves goes into a file of its own, not to the owner's terminal; the settings of a
cluster are Spark's own (`SPARK_CONF_DIR`, `spark-defaults.conf`), those here are what a fit rests on.
"""

import importlib.util
import os
import re
import shutil
import subprocess
import sys
import tempfile
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.errors import FitError

LEAST_JAVA = 17

_ATTEMPTS = 4
"""How often a task may fail before Spark gives up."""

_SETTINGS: dict[str, str] = {
    "spark.app.name": "pairband",
    "spark.ui.enabled": "false",
    "spark.ui.showConsoleProgress": "false",
    "spark.log.level": "ERROR",
    "spark.sql.session.timeZone": "UTC",
    "spark.sql.execution.arrow.pyspark.enabled": "true",
    "spark.sql.execution.arrow.maxRecordsPerBatch": "65536",
    "spark.sql.execution.arrow.maxBytesPerBatch": "8m",  # of blocks, which count as one record each
    "spark.sql.files.maxPartitionBytes": "32m",
    "spark.sql.inMemoryColumnarStorage.batchSize": "1",  # a row is a block of many records
    "spark.executorEnv.OPENBLAS_NUM_THREADS": "1",
    "spark.executorEnv.POLARS_MAX_THREADS": "1",
}

_HERE: dict[str, str] = {
    "spark.driver.host": "127.0.0.1",
    "spark.driver.bindAddress": "127.0.0.1",
    "spark.sql.shuffle.partitions": "8",
}
"""The settings of Spark within this machine."""


@contextmanager
def spark_session(master: str) -> Iterator[Any]:
    """Start Spark at a master (`local[2]`, or a cluster's address) and stop it again.

    Raises FitError where pyspark or a Java of LEAST_JAVA is missing, where Spark does not start, or where it gives up
    inside.
    """
    if importlib.util.find_spec("pyspark") is None:
        raise FitError("Spark is not installed", 'run `pip install "pairband[spark]"`.')
    require_java()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of what pyspark itself imports
        from pyspark import SparkConf, SparkContext
        from pyspark.errors import PySparkException
        from pyspark.sql import SparkSession

        settings = (
            SparkConf(loadDefaults=False).setMaster(_with_attempts(master)).setAll(_settings_for(master))
        )
        try:
            context = SparkContext(conf=settings, gateway=_gateway(settings))
        except (PySparkException, OSError, _java_error()) as exc:
            raise FitError(
                f"Spark did not start at {master}: {_first_line(exc)}", f"{_log()} says more."
            ) from exc
        if master.startswith("local"):
            context.pythonExec = sys.executable
        try:
            yield SparkSession(context)
        except (PySparkException, _java_error()) as exc:
            raise _given_up(exc) from exc
        finally:
            context.stop()


def require_java() -> None:
    """Raise FitError where there is no Java of LEAST_JAVA."""
    home = os.getenv("JAVA_HOME")
    java = str(Path(home) / "bin" / "java") if home else shutil.which("java")
    where = f"JAVA_HOME is {home}" if home else "JAVA_HOME is not set, so it is looked for on the path"
    remedy = f"install Java {LEAST_JAVA} or later, or set JAVA_HOME to the folder where it is."
    try:
        if java is None:
            raise FileNotFoundError
        said = subprocess.run(
            [java, "-version"], capture_output=True, text=True, check=True, timeout=60
        ).stderr
    except (OSError, subprocess.SubprocessError) as exc:
        raise FitError(
            f"Spark needs Java {LEAST_JAVA} or later, and there is none ({where})", remedy
        ) from exc
    found = re.search(r'version "(?:1\.)?(\d+)', said)
    if found is not None and int(found[1]) < LEAST_JAVA:
        raise FitError(
            f"Spark needs Java {LEAST_JAVA} or later, and {java} is Java {found[1]} ({where})", remedy
        )


def _with_attempts(master: str) -> str:
    """Return the master with tasks that fail done again on this machine too, as a cluster does by itself."""
    if master == "local":
        return f"local[1,{_ATTEMPTS}]"
    return re.sub(r"^local\[(\d+|\*)\]$", rf"local[\1,{_ATTEMPTS}]", master)


def _settings_for(master: str) -> list[tuple[str, str]]:
    return [*(_SETTINGS | (_HERE if master.startswith("local") else {})).items()]


@cache
def _log() -> Path:
    """Return the file that takes what Spark and its Java say of themselves."""
    return Path(tempfile.mkdtemp(prefix="pairband-spark-")) / "spark.log"


def _gateway(settings: Any) -> Any:
    """Return the way to the Java in which Spark lives, started once; it ends with this process."""
    from pyspark import SparkContext
    from pyspark.java_gateway import launch_gateway

    if SparkContext._gateway is not None:
        return SparkContext._gateway
    with _log().open("wb") as log:
        return launch_gateway(settings, popen_kwargs={"stdout": log, "stderr": log})


def _java_error() -> type[Exception]:
    from py4j.protocol import Py4JError

    error: type[Exception] = Py4JError
    return error


def _given_up(exc: Exception) -> FitError:
    """Return the error to raise where Spark gave up: that of a task where it is one of ours, else Spark's words."""
    own = re.search(r"pipeline\.errors\.FitError: (.+)\n(.+)", str(exc))
    if own is not None:
        return FitError(own[1], own[2])
    return FitError(f"Spark gave up: {_first_line(exc)}", f"{_log()} says more.")


def _first_line(exc: BaseException) -> str:
    lines = [line for line in str(exc).splitlines() if line.strip()]
    return lines[0].strip() if lines else type(exc).__name__
