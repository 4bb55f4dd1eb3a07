"""The Python programs of the guide run as written, chapter by chapter, and print what it shows."""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import HERE, data

APART = HERE.parent / "guide"
GUIDE = APART if APART.is_dir() else HERE.parents[2] / "src" / "guide"
BLOCK = re.compile(r"^(?:<!-- (?P<mark>.*?) -->\n)?```(?P<language>\w+)\n(?P<code>.*?)^```\n(?:```text\n(?P<output>.*?)^```\n)?", re.MULTILINE | re.DOTALL)
PAGES = [page for page in sorted(GUIDE.rglob("*.md")) if "```python" in page.read_text()]


@pytest.mark.parametrize("page", PAGES, ids=[page.stem for page in PAGES])
def test_chapter(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(data("heron.toml"), "heron.toml")
    ran = 0
    for block in BLOCK.finditer(page.read_text()):
        mark = block["mark"] or ""
        if mark.startswith("file: "):
            Path(mark.removeprefix("file: ")).write_text(block["code"])
        elif block["language"] == "python" and mark == "pytest":
            Path("test_of_the_guide.py").write_text(block["code"])
            command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "test_of_the_guide.py"]
            done = subprocess.run(command, capture_output=True, text=True, env=dict(os.environ, PYTEST_ADDOPTS=""))
            assert done.returncode == 0, done.stdout
            ran += 1
        elif block["language"] == "python":
            printed = io.StringIO()
            with contextlib.redirect_stdout(printed):
                exec(compile(block["code"], f"{page.name}", "exec"), {"__name__": "guide"})
            if block["output"] is not None:
                assert printed.getvalue().split() == block["output"].split()
            ran += 1
    assert ran


def test_chapters_are_found() -> None:
    assert {"csv_to_file", "bring_up", "unit_tests", "control_loop"} <= {page.stem for page in PAGES}
