"""Make the source distribution: what `maturin sdist` packs, and the core beside it.

    python sdist.py OUT

maturin packs path dependencies, but not one that is the workspace's root package, as the core is. Run from a checkout.
"""

from __future__ import annotations

import gzip
import shutil
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
# Whatever Cargo.toml of the core names must be there, its tests and benches too.
CORE = ["src", "benches", "tests/*.rs", "README.md"]


def main(out: Path) -> None:
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(["maturin", "sdist", "--out", folder], cwd=HERE, check=True)
        (archive,) = Path(folder).glob("*.tar.gz")
        with tarfile.open(archive) as packed:
            packed.extractall(folder, filter="data")
        tree = Path(folder, archive.name.removesuffix(".tar.gz"))
        listed = subprocess.run(["git", "ls-files", "--", *CORE], cwd=ROOT, check=True, capture_output=True, text=True)
        for name in listed.stdout.splitlines():
            target = tree / name
            if not target.exists():
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(ROOT / name, target)
        # The lock of the workspace names members that are not packed; builds from here are locked too.
        subprocess.run(["cargo", "metadata", "--format-version=1", "--offline"], cwd=tree, check=True, stdout=subprocess.DEVNULL)
        finished = out / archive.name
        with finished.open("wb") as raw, gzip.GzipFile("", "wb", fileobj=raw, mtime=0) as zipped:
            with tarfile.open(fileobj=zipped, mode="w", format=tarfile.PAX_FORMAT) as packed:
                for path in sorted(p for p in tree.rglob("*") if p.is_file()):
                    member = packed.gettarinfo(path, str(path.relative_to(folder)))
                    member.mtime, member.uid, member.gid, member.uname, member.gname = 0, 0, 0, "", ""
                    with path.open("rb") as content:
                        packed.addfile(member, content)
        print(finished)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
