"""Writes the C and C++ programs of the guide, each with the output that the guide shows for it.

    python3 tests/c/guide.py FOLDER

A program is a fenced block of language `c` or `cpp` in src/guide/*.md; the `text` block right after it is its output.
Prints the name of each program without its ending.
"""

import re
import sys
from pathlib import Path

GUIDE = Path(__file__).resolve().parents[2] / "src" / "guide"
PROGRAM = re.compile(r"^```(c|cpp)\n(.*?)^```\n(?:```text\n(.*?)^```\n)?", re.MULTILINE | re.DOTALL)

folder = Path(sys.argv[1])
folder.mkdir(parents=True, exist_ok=True)
for page in sorted(GUIDE.rglob("*.md")):
    for number, found in enumerate(PROGRAM.finditer(page.read_text()), 1):
        language, code, output = found.groups()
        name = f"{page.stem}-{number}.{language}"
        (folder / name).write_text(code)
        if output is not None:
            (folder / f"{name}.expected").write_text(output)
        print(name)
