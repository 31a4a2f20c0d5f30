"""Papers that go with a release: licences of everything in the program, and a bill of materials (CycloneDX 1.5, JSON).

    python3 crates/cli/release/papers.py TARGET VERSION PROGRAM LICENCES.txt BILL.cdx.json

What is in the program is Cargo's own graph for the target, tests and build tools left out; texts are those that the crates carry.
The instant is SOURCE_DATE_EPOCH's, the serial number follows from the program, so that the same program gets the same papers.
"""
import datetime
import hashlib
import json
import os
import re
import subprocess
import sys
import tomllib
import uuid
from pathlib import Path

TOP = Path(__file__).resolve().parents[3]
LICENCE_FILE = re.compile(r"^(licen[cs]e|copying|unlicense|notice|copyright)", re.IGNORECASE)
DATA = """\
Data in the program
  Ephemeris: JPL DE440 (Park et al. 2021), NASA/JPL/NAIF.      The Moon's edge: NASA LOLA, LDEM_16.      Time: IERS.
  Place names: GeoNames (geonames.org), CC BY 4.0, https://creativecommons.org/licenses/by/4.0/
  Coasts, borders, lakes: Natural Earth, public domain.         Stars: Hipparcos Catalogue, ESA SP-1200.
  Time-zone boundaries: OpenStreetMap contributors, ODbL 1.0, https://opendatacommons.org/licenses/odbl/1-0/
  Fonts: Noto (SIL OFL 1.1), DejaVu (Bitstream Vera licence); their texts stand at the end.
"""
# What the compiler adds to every program, by a part of the target's name.
ADDED = {
    "": "  The Rust standard library: MIT OR Apache-2.0, https://github.com/rust-lang/rust (its own COPYRIGHT names what is in it)",
    "linux-musl": "  musl, the C library: MIT, https://musl.libc.org",
    "linux-gnu": "  The GNU C library, linked in: LGPL-2.1-or-later, https://www.gnu.org/software/libc/ (all other parts are open source, to be "
                 "linked anew with any version of it)",
}


def cargo(*arguments):
    return subprocess.run(["cargo", *arguments], cwd=TOP, check=True, capture_output=True, text=True).stdout


def in_the_program(target):
    """{(name, version): set of what it uses} for all crates that are linked into the program."""
    lines = cargo("tree", "--package", "noonfall", "--locked", "--target", target, "--edges", "normal", "--prefix", "depth", "--no-dedupe",
                  "--format", "|{p}").splitlines()
    uses, above = {}, []
    for line in filter(None, lines):
        depth, package = line.split("|", 1)
        name, version = package.split()[:2]
        key = (name, version.removeprefix("v"))
        # Macros run in the compiler; what they use is in no program.
        above = above[:int(depth)]
        if "(proc-macro)" in package or None in above:
            above.append(None)
            continue
        uses.setdefault(key, set())
        if above:
            uses[above[-1]].add(key)
        above.append(key)
    return uses


def texts(folder):
    files = [p for p in folder.iterdir() if p.is_file() and LICENCE_FILE.match(p.name)]
    files += [p for sub in folder.iterdir() if sub.is_dir() and sub.name.lower() in ("licenses", "licences") for p in sub.iterdir() if p.is_file()]
    return [p.read_text(encoding="utf-8", errors="replace").replace("\r\n", "\n").strip() + "\n" for p in sorted(files)]


def licences(packages, keys, target):
    """One text with every crate, its licence, and each licence text once, with the crates that carry it."""
    out = ["noonfall is offered under MIT or Apache-2.0, at your choice (LICENSE-MIT, LICENSE-APACHE). It contains the following.\n", DATA, "From the compiler"]
    out += [text for part, text in ADDED.items() if part in target] + ["\nCrates"]
    carried, without = {}, []
    for key in keys:
        package = packages[key]
        out.append(f"  {key[0]} {key[1]}: {package['license']}, {package['repository'] or 'no repository named'}")
        if package["source"] is None:
            continue
        found = texts(Path(package["manifest_path"]).parent)
        for text in found:
            carried.setdefault(text, []).append(f"{key[0]} {key[1]}")
        if not found:
            without.append(f"{key[0]} {key[1]}")
    out.append("\nCrates that carry no text of their own; those of MIT and Apache-2.0 stand in LICENSE-MIT and LICENSE-APACHE:\n  "
               + ", ".join(without) + "\n")
    for text, names in sorted(carried.items(), key=lambda item: item[1]):
        out.append("=" * 78 + "\n" + ", ".join(names) + "\n" + "-" * 78 + "\n" + text)
    for font in sorted((TOP / "data" / "fonts").glob("LICENSE-*.txt")):
        out.append("=" * 78 + f"\nFonts: {font.name}\n" + "-" * 78 + "\n" + font.read_text(encoding="utf-8"))
    return "\n".join(out)


def bill(packages, uses, target, version, program):
    checksums = {(p["name"], p["version"]): p.get("checksum") for p in tomllib.loads((TOP / "Cargo.lock").read_text())["package"]}
    digest = hashlib.sha256(program.read_bytes()).hexdigest()
    instant = datetime.datetime.fromtimestamp(int(os.environ["SOURCE_DATE_EPOCH"]), datetime.timezone.utc)

    def reference(key):
        return f"pkg:cargo/{key[0]}@{key[1]}"

    def component(key):
        package = packages[key]
        out = {"type": "library", "bom-ref": reference(key), "name": key[0], "version": key[1], "description": package["description"] or "",
               "scope": "required", "licenses": [{"expression": package["license"].replace(" / ", " OR ").replace("/", " OR ")}]}
        if package["source"]:
            out["purl"] = reference(key)
        if checksums.get(key):
            out["hashes"] = [{"alg": "SHA-256", "content": checksums[key]}]
        if package["repository"]:
            out["externalReferences"] = [{"type": "vcs", "url": package["repository"]}]
        return out

    main = ("noonfall", version)
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "serialNumber": f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_URL, digest)}",
        "version": 1,
        "metadata": {
            "timestamp": instant.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "component": {**component(main), "type": "application", "hashes": [{"alg": "SHA-256", "content": digest}]},
            "properties": [{"name": "target", "value": target}, {"name": "compiler", "value": subprocess.check_output(["rustc", "--version"], text=True).strip()}],
        },
        "components": [component(key) for key in sorted(uses) if key != main],
        "dependencies": [{"ref": reference(key), "dependsOn": [reference(k) for k in sorted(uses[key])]} for key in sorted(uses)],
    }


def main():
    target, version, program, licence_file, bill_file = sys.argv[1:]
    packages = {(p["name"], p["version"]): p for p in json.loads(cargo("metadata", "--locked", "--format-version", "1"))["packages"]}
    uses = in_the_program(target)
    Path(licence_file).write_text(licences(packages, sorted(uses), target), encoding="utf-8")
    document = bill(packages, uses, target, version, Path(program))
    Path(bill_file).write_text(json.dumps(document, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
