"""Lists the examples, each with what it shows and how to run it."""

from __future__ import annotations

import ast

from . import names, path


def main() -> None:
    for name in names():
        file = path(name)
        if file.suffix == ".py":
            about = (ast.get_docstring(ast.parse(file.read_text())) or "").split("\n")[0]
            print(f"python -m elbowroom.examples.{file.stem}\n    {about}")
        else:
            print(f"{file}\n    the demo robot Heron")


if __name__ == "__main__":
    main()
