"""Print how soon the desk of a folder answers, and its first pages: python -m tests.bench.bench_desk FOLDER."""

import subprocess
import sys
from http.cookiejar import CookieJar
from time import perf_counter
from urllib.request import HTTPCookieProcessor, build_opener

PAGES = ("/", "/fit", "/care", "/records", "/value", "/stock", "/market-file", "/")


def main(folder: str) -> None:
    """Open the desk of a folder, load its pages once each, and end it."""
    began = perf_counter()
    command = [sys.executable, "-c", "from pipeline.cli import main; main()", "desk", folder, "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            lines = iter(process.stdout or ())
            next(lines)
            address = next(lines).strip()
            opener = build_opener(HTTPCookieProcessor(CookieJar()))
            with opener.open(address) as answer:
                answer.read()
            print(f"first page {perf_counter() - began:.2f} s after the start")
            for page in PAGES:
                asked = perf_counter()
                with opener.open(address.split("/enter")[0] + page) as answer:
                    size = len(answer.read())
                print(f"{page:14} {perf_counter() - asked:6.2f} s  {size:9,} bytes")
        finally:
            process.terminate()


if __name__ == "__main__":
    main(sys.argv[1])
