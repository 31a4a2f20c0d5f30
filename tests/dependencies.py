#!/usr/bin/env python3
"""Holds what the program depends on against deny.toml: licences, sources, bans, two versions of one crate.

    python3 tests/dependencies.py

cargo-deny reads the same file and checks the same things (and advisories, for which it needs a database from the network). It is a
program of more than a hundred crates that a bare machine would have to build first, so the test command asks this instead: Cargo's own
graph of what is built for any target, tests included, and Cargo.lock. Needs Cargo, and Python 3.11 or later.
"""
import re
import subprocess
import sys
import tomllib
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent


def graph():
    """(name, version, licence expression, whether it is a package of this repository) of all that is built anywhere."""
    command = ["cargo", "tree", "--workspace", "--locked", "--target", "all", "--edges", "normal,build,dev", "--prefix", "none",
               "--no-dedupe", "--format", "{p}|{l}"]
    lines = subprocess.run(command, cwd=TOP, check=True, capture_output=True, text=True).stdout.splitlines()
    found = set()
    for line in filter(None, lines):
        package, licence = line.rsplit("|", 1)
        name, version, *rest = package.split()
        found.add((name, version.removeprefix("v"), licence.strip(), any(str(TOP) in word for word in rest)))
    return sorted(found)


def allowed(expression, licences):
    """Whether an SPDX expression can be met by licences of a set; `/` is the old way to write OR."""
    tokens = re.findall(r"\(|\)|[^\s()/]+|/", expression.replace("/", " OR "))

    def either():
        met = both()
        while tokens and tokens[0] == "OR":
            tokens.pop(0)
            met = both() or met
        return met

    def both():
        met = one()
        while tokens and tokens[0] == "AND":
            tokens.pop(0)
            met = one() and met
        return met

    def one():
        token = tokens.pop(0)
        if token == "(":
            met = either()
            tokens.pop(0)
            return met
        if tokens and tokens[0] == "WITH":
            token += f" {tokens.pop(0)} {tokens.pop(0)}"
        return token in licences

    return either()


def faults():
    policy = tomllib.loads((TOP / "deny.toml").read_text())
    packages = graph()
    if len(packages) < 50:
        yield f"only {len(packages)} packages found: the graph was not read"
    licences = set(policy["licenses"]["allow"])
    exceptions = {e["crate"]: set(e["allow"]) for e in policy["licenses"].get("exceptions", [])}
    for name, version, licence, _ in packages:
        if not licence or not allowed(licence, licences | exceptions.get(name, set())):
            yield f"{name} {version}: the licence '{licence}' is not among [licenses] allow"
    banned = {b["crate"]: b["reason"] for b in policy["bans"]["deny"]}
    for name, version, _, _ in packages:
        if name in banned:
            yield f"{name} {version}: banned ({banned[name]})"
    skipped = {s["crate"] for s in policy["bans"]["skip"]}
    versions = {}
    for name, version, _, _ in packages:
        versions.setdefault(name, set()).add(version)
    for name, found in versions.items():
        if len(found) > 1 and name not in skipped:
            yield f"{name}: {len(found)} versions ({', '.join(sorted(found))}); keep one, or give the reason under [bans] skip"
    for name in skipped:
        if len(versions.get(name, ())) < 2:
            yield f"{name}: stands under [bans] skip, but there are not two versions of it any more"
    ours = {(name, version) for name, version, _, local in packages if local}
    registries = {f"registry+{url}" for url in policy["sources"]["allow-registry"]}
    for package in tomllib.loads((TOP / "Cargo.lock").read_text())["package"]:
        name, version, source = package["name"], package["version"], package.get("source")
        if source is None and (name, version) not in ours:
            yield f"{name} {version}: comes from a path outside the workspace"
        elif source is not None and (source not in registries or "checksum" not in package):
            yield f"{name} {version}: comes from {source}, which is not among [sources], or has no checksum"


def self_check():
    for expression, met in [("MIT OR GPL-3.0", True), ("MIT/Apache-2.0", True), ("MIT AND GPL-3.0", False), ("(GPL-3.0 OR MIT) AND Zlib", True),
                            ("GPL-3.0 WITH Classpath-exception-2.0 OR MPL-2.0", False), ("Apache-2.0 WITH LLVM-exception", False)]:
        assert allowed(expression, {"MIT", "Zlib", "Apache-2.0"}) == met, expression


if __name__ == "__main__":
    self_check()
    found = list(faults())
    for fault in found:
        print(fault, file=sys.stderr)
    if found:
        sys.exit(1)
    print("licences, sources and versions of all dependencies are as deny.toml wants them")
