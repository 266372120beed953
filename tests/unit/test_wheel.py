"""The wheel carries all that the demo needs, away from any checkout."""

import os
import subprocess
import sys
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.wheel
@pytest.mark.skipif(
    os.environ.get("CI") != "true", reason="builds and installs a wheel; set CI=true to run it"
)
def test_the_demo_runs_from_a_wheel_in_a_fresh_environment(tmp_path: Path) -> None:
    def run(*command: str | Path) -> str:
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr[-2000:]
        return done.stdout

    run(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", tmp_path, ROOT)
    [wheel] = tmp_path.glob("pairband-*.whl")
    venv.create(tmp_path / "fresh", with_pip=True)
    python = tmp_path / "fresh" / "bin" / "python"
    run(python, "-m", "pip", "install", "-q", "-c", ROOT / "constraints.txt", wheel)

    told = run(tmp_path / "fresh" / "bin" / "pairband", "demo", "demo")

    assert "A common pair" in told
    assert (tmp_path / "demo" / "pages" / "common.html").stat().st_size > 100_000
    assert str(ROOT) not in run(
        python, "-c", "import pipeline, reports; print(pipeline.__file__, reports.__file__)"
    )
