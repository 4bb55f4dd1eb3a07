"""Lists every text that a user may see, each with its place.

    tests/words/texts.py            what is printed or returned: texts in Rust, Python and shell sources
    tests/words/texts.py --docs     also comments of public headers, doc comments, docstrings and Markdown

One line a text: `path:line: text`. Tests and what only they compile are left out, and comments of what no user sees: private items of the
core, and all of the shell tool but its options.
"""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# A text of one word is a key, a code or a name; those have their own tables and tests.
WORDS = re.compile(r"[A-Za-z][a-z]+[,;:.]? +[A-Za-z{(]|\w+[,:;] |[a-z]{3,} \{")

RUST_TOKEN = re.compile(
    r"""(?P<line>//[^\n]*)
      | (?P<block>/\*.*?\*/)
      | (?P<raw>b?r(?P<hashes>\#*)"(?P<rawtext>.*?)"(?P=hashes))
      | (?P<string>b?c?"(?P<text>(?:[^"\\]|\\.)*)")
      | (?P<char>'(?:[^'\\\n]|\\[^\n])[^'\n]{0,8}?')
      """,
    re.VERBOSE | re.DOTALL,
)


def files() -> list[Path]:
    out = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return [Path(line) for line in out.splitlines()]


def is_shipped(path: Path) -> bool:
    parts = path.parts
    if parts[0] == "src":
        return path.name != "tests.rs"
    return parts[0] == "bindings" and "tests" not in parts and "benches" not in parts


def plain(text: str) -> str:
    """A literal as it is shown: lines joined, escapes undone."""
    text = re.sub(r"\\\n\s*", "", text)
    for escape, shown in (("\\n", " "), ("\\t", " "), ('\\"', '"'), ("\\'", "'"), ("\\\\", "\\")):
        text = text.replace(escape, shown)
    text = re.sub(r"\\u\{([0-9a-fA-F]+)\}", lambda m: chr(int(m[1], 16)), text)
    return " ".join(text.split())


def without_tests(source: str) -> str:
    """Blanks out `#[cfg(test)] mod … { … }` at the end of a file, keeping the numbers of lines."""
    at = re.search(r"#\[cfg\(test\)\]\s*(#\[[^\]]*\]\s*)*mod \w+ \{", source)
    return source if at is None else source[: at.start()]


# What stands behind the comment of a private item of the core.
PRIVATE = re.compile(r"pub\((?:crate|super|in [^)]*)\)|(?:const |async |unsafe )*(?:fn|static|struct|enum|mod|trait|type|use|let|impl)\b|const\b|macro_rules")


def is_seen(path: Path, source: str, at: int) -> bool:
    """Whether a comment that ends at this place documents what a user sees."""
    if path.parts[0] == "bindings":
        return path.parts[1] != "cli" or path.parts[3].startswith("args")
    code = re.match(r"(?:\s|///[^\n]*|//[^\n]*|#\[(?:[^\[\]]|\[[^\]]*\])*\])*", source[at:])
    return code is None or not PRIVATE.match(source[at + code.end() :])


def rust(path: Path, docs: bool) -> Iterator[tuple[int, str]]:
    source = without_tests((ROOT / path).read_text())
    comment: list[str] = []
    start = end = 0
    is_of_file = False
    for token in RUST_TOKEN.finditer(source):
        line = source.count("\n", 0, token.start()) + 1
        if token["line"] is not None:
            shown = re.match(r"//[/!] ?(.*)", token["line"])
            if docs and shown and not token["line"].startswith("////"):
                if comment and line > start + len(comment):
                    if is_of_file or is_seen(path, source, end):
                        yield start, "\n".join(comment)
                    comment = []
                if not comment:
                    start, is_of_file = line, token["line"].startswith("//!") and path.parts[0] == "src"
                comment.append(shown[1])
                end = token.end()
            continue
        if comment:
            if is_of_file or is_seen(path, source, end):
                yield start, "\n".join(comment)
            comment = []
        text = token["text"] if token["text"] is not None else token["rawtext"]
        if text is None:
            continue
        # Attributes say nothing to users, but for texts of errors, arguments and docs.
        before = source[source.rfind("\n", 0, token.start()) + 1 : token.start()]
        if re.search(r"reason = $|feature = $|#\[serde|#\[cfg|#\[error\($", before) and "#[error(" not in before:
            continue
        text = plain(text)
        if WORDS.search(text):
            yield line, text
    if comment and (is_of_file or is_seen(path, source, end)):
        yield start, "\n".join(comment)


def python(path: Path, docs: bool) -> Iterator[tuple[int, str]]:
    tree = ast.parse((ROOT / path).read_text())
    docstrings = set()
    for node in ast.walk(tree):
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)):
            if node.body and isinstance(node.body[0], ast.Expr) and isinstance(node.body[0].value, ast.Constant):
                docstrings.add(id(node.body[0].value))
    inside = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(part.value) if isinstance(part, ast.Constant) else "{…}" for part in node.values)
            inside.update(id(part) for part in node.values)
            if WORDS.search(text):
                yield node.lineno, plain(text)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in inside:
            if id(node) in docstrings:
                if docs:
                    yield node.lineno, node.value
            elif WORDS.search(node.value):
                yield node.lineno, plain(node.value)


def whole(path: Path) -> Iterator[tuple[int, str]]:
    yield 1, (ROOT / path).read_text()


def described(path: Path) -> Iterator[tuple[int, str]]:
    """The descriptions of a JSON schema."""
    for number, line in enumerate((ROOT / path).read_text().splitlines(), 1):
        for text in re.findall(r'"description": "([^"]*)"', line):
            yield number, text


def texts(docs: bool) -> Iterator[tuple[Path, int, str]]:
    for path in files():
        found: Iterator[tuple[int, str]] = iter(())
        if path.suffix == ".rs" and is_shipped(path):
            found = rust(path, docs)
        elif path.suffix in (".py", ".pyi") and is_shipped(path):
            found = python(path, docs)
        elif docs and path.suffix == ".txt" and path.parts[:3] == ("bindings", "c", "src"):
            found = whole(path)
        elif docs and path.name == "elbowroom.hpp":
            found = whole(path)
        elif path.name == "schema.json":
            found = described(path)
        elif docs and path.suffix == ".md" and path.parts[0] != "tests":
            found = whole(path)
        elif docs and is_shipped(path) and path.suffix in (".c", ".h", ".ino"):
            found = whole(path)
        for line, text in found:
            yield path, line, text


def main() -> None:
    for path, line, text in texts("--docs" in sys.argv[1:]):
        for offset, part in enumerate(text.splitlines()):
            if part.strip():
                print(f"{path}:{line + offset}: {part.strip()}")


if __name__ == "__main__":
    main()
