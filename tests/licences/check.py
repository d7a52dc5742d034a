"""Holds every dependency that is built into the program, or into the Python module, to deny.toml: licence and source.

usage: check.py   (needs cargo; works offline once the dependencies are there)
"""

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ALLOWED = set(tomllib.loads((ROOT / "deny.toml").read_text())["licenses"]["allow"])


def satisfied(expression):
    """Whether an SPDX expression can be met with the allowed licences (`/` is an old way to write OR)."""
    words = re.findall(r"\(|\)|[^\s()/]+(?:\s+WITH\s+[^\s()/]+)?|/", expression)
    python = []
    for word in words:
        word = " ".join(word.split())
        python.append({"(": "(", ")": ")", "/": "or", "OR": "or", "AND": "and"}.get(word, str(word in ALLOWED)))
    # Nothing but brackets, and, or, True and False is left.
    return eval(" ".join(python), {"__builtins__": {}})


def packages(folder):
    """Packages that a build for this machine may use, tests included."""
    host = re.search(r"host: (\S+)", subprocess.run(["rustc", "-vV"], capture_output=True, text=True, check=True).stdout).group(1)
    command = ["cargo", "metadata", "--format-version", "1", "--locked", "--all-features", "--filter-platform", host]
    found = json.loads(subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True).stdout)
    used = {node["id"] for node in found["resolve"]["nodes"]}
    return [package for package in found["packages"] if package["id"] in used]


def main():
    assert satisfied("MIT OR GPL-3.0-only") and satisfied("Unlicense/MIT") and not satisfied("GPL-3.0-only")
    assert satisfied("(MIT OR Apache-2.0) AND Unicode-3.0") and not satisfied("MIT AND GPL-2.0-only")
    bad = []
    for what, folder in (("the program", ROOT), ("the Python module", ROOT / "python")):
        listed = packages(folder)
        for package in listed:
            name = f"{package['name']} {package['version']}"
            if not package["license"] or not satisfied(package["license"]):
                bad.append(f"{name}: licence {package['license']}")
            if package["source"] is None and not Path(package["manifest_path"]).is_relative_to(ROOT):
                bad.append(f"{name}: a folder outside this source tree")
            if package["source"] and not package["source"].startswith("registry+"):
                bad.append(f"{name}: from {package['source']}")
        print(f"licences: {len(listed)} packages behind {what}")
    if bad:
        sys.exit("\n".join(bad))
    for manifest in sorted((ROOT / "crates").glob("*/Cargo.toml")):
        lints = tomllib.loads(manifest.read_text())["lints"]
        assert lints == {"workspace": True}, f"{manifest}: the workspace's lints forbid unsafe code"
    workspace = tomllib.loads((ROOT / "Cargo.toml").read_text())["workspace"]["lints"]["rust"]
    assert workspace["unsafe_code"] == "forbid"
    print("licences: all allowed, all from the registry; unsafe code is forbidden in every crate")


main()
