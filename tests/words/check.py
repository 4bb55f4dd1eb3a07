"""Spelling and style of what users read.

    tests/words/check.py        reports each violation as path:line: rule: text; exit status 1 if there is one

Every text that `texts.py` lists is spell-checked (codespell, with the words of `words.txt` allowed) and held against the rules
below. A rule names a class of language, an example of it, and what to write instead.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from pathlib import Path

import texts

DATA = r"(?:readings?|data|files?|tables?|values?|fits?|models?|lines?|columns?|rows?|curves?|sensors?|map|header|evidence)"

# Name, pattern, what to write instead. All hold in messages, and all but those of MESSAGES in documentation too.
RULES = [
    ("data-speak", rf"\b{DATA} (?:say|says|ask|asks|leave|leaves|tell|tells|told|see|sees|knows?|speaks?)\b", "data have statistics: state the observation, e.g. 'nonlinear (p = 6e-8): use a curve'"),
    ("leaves-a-number", r"\bleaves? (?:\{|\d)", "'residual SD 2.97 deg'"),
    ("is-no", r"(?<!there )\b(?:is|are) no (?!longer\b|header\b|stop\b|more\b|less\b|worse\b|further\b|larger\b|smaller\b|fewer\b)\w+", "'is not a …', or what it is"),
    ("mind", r"^mind\b", "'warning'"),
    ("turned-over", r"\bturned over\b", "'the inverse, command to drive'"),
    ("truly", r"\btruly\b", "'true value …'"),
    ("bare-u", r"(?:^|[(,] ?)u (?:\{|\d|%|of\b)", "'standard uncertainty …' or '±' with the coverage"),
    ("bare-guard", r"\bguard (?:\{|\d)", "'guard margin … deg'"),
    ("no-source", r"common practice", "'default; verify against the data sheet'"),
    ("nothing-known", r"\bnothing known beyond\b|\bclear as far as\b", "'untested beyond', 'clear to'"),
    ("met-a-stop", r"\bstop(?:s)? (?:was |were )?met\b(?!, and placed)|\bno stop met\b", "'stop found', 'no stop found'"),
    ("plural", r"\b1 (?:joints|errors|warnings|notes|readings|knots|counts)\b", "singular after 1"),
    ("quaint", r"(?<!all )(?<!nothing )(?<!none )\b(?:whoever|whosoever|thereof|hither|thither|lest|ere|forthwith|for want of|laid down|anew|put right|put them right|set right|on the average|but one\b(?! that))\b", "a common word"),
    ("held-against", r"\bh(?:eld|olds?) (?:(?!up\b)[\w`]+ )?against\b", "'compared with …'"),
    ("taken-over", r"\b(?:taken|take the \w+(?: \w+)?) over\b", "'adopt', 'write', or what happens"),
    ("ruler-speak", r"\bruler (?:says|told)\b", "'measured with a ruler'"),
    ("cannot-be-said", r"\bcannot be (?:said|told)\b", "'cannot be determined'"),
    ("cannot-be", r"\b(?:mechanism|linkage|start|it) cannot be(?: where \w+ are)?[.,;]|\bthat are none\b|\bthat is none(?! of)\b", "'cannot reach …', 'invalid'"),
    ("is-said-to", r"\bis said to have\b|\band said to be\b", "'is reported as …'"),
    ("goes-on", r"\bgoes? straight on\b|\bgoing on with\b", "'continues as a straight line', 'continues'"),
    ("digits", r"\{(?:at|drive|lower|upper|short_at|from|to|mark|shift|gap|later|earlier|measured|in_file|found|file|sensor|speed|latency)?:\+?\.[1-9]\d*\} ?(?:deg|in drive|apart|a second|s\b|to\b|on\b|the\b|only\b|;|,)", "digits that follow the uncertainty: look::Rounded, look::Statistic"),
]
# Documentation may speak of a name or of a unit where a message must not.
MESSAGES = {"bare-guard", "digits", "plural"}


def violations() -> list[str]:
    found = []
    rules = [(name, re.compile(pattern, re.IGNORECASE), instead) for name, pattern, instead in RULES]
    for docs in (False, True):
        for path, line, text in texts.texts(docs):
            for offset, part in enumerate(text.splitlines()):
                for name, pattern, instead in rules:
                    if docs and name in MESSAGES:
                        continue
                    if pattern.search(part):
                        found.append(f"{path}:{line + offset}: {name}: {part.strip()[:160]}\n    write {instead}")
    return list(dict.fromkeys(found))


def misspelt() -> list[str]:
    """codespell over all texts, with their places."""
    places, lines = [], []
    for path, line, text in texts.texts(docs=True):
        for offset, part in enumerate(text.splitlines()):
            places.append(f"{path}:{line + offset}")
            lines.append(part)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "texts.txt")
        file.write_text("\n".join(lines) + "\n")
        command = [sys.executable, "-m", "codespell_lib", "--ignore-words", str(Path(__file__).with_name("words.txt")), str(file)]
        done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode not in (0, 64, 65) and not done.stdout:
        raise SystemExit(f"codespell: {done.stderr}")
    found = []
    for report in done.stdout.splitlines():
        match = re.match(r".*?texts\.txt:(\d+): (.*)", report)
        if match:
            found.append(f"{places[int(match[1]) - 1]}: spelling: {match[2]}")
    return found


def main() -> int:
    found = violations() + misspelt()
    for one in found:
        print(one)
    listed = sum(1 for _ in texts.texts(docs=False))
    print(f"ok - {listed} messages and all documentation" if not found else f"{len(found)} violations")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
