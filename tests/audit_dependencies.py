"""Known vulnerabilities and licences of everything installed that we depend on: a command.

    python -m tests.audit_dependencies

Vulnerabilities are asked of a public service by pip-audit, where that is installed (`pip install pip-audit`) and the
service can be reached; else it says that it could not. Licences are those that the packages state of themselves. Ends
with 1 where a vulnerability is known, or a licence is none that suits a program under the MIT licence.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from importlib import metadata

__all__ = ["licences", "needed_packages"]

_SUITABLE = re.compile(
    r"\b(MIT|BSD|Apache|PSF|PSFL|Python Software Foundation|ISC|HPND|Historical Permission|LGPL|Lesser General Public|"
    r"MPL|Mozilla|Zlib|0BSD|Unlicense|CC0|MIT-CMU)\b",
    re.IGNORECASE,
)
"""Licences under which a package may be used by a program under MIT that does not change it."""


def needed_packages(root: str = "nestplan", *, extras: tuple[str, ...] = ("cluster",)) -> set[str]:
    """Names of the distributions that one needs, near or far, as they are installed here."""
    found: set[str] = set()
    waiting = [(root, extras)]
    while waiting:
        name, wanted = waiting.pop()
        try:
            requires = metadata.requires(name) or []
        except metadata.PackageNotFoundError:
            continue
        if name != root:
            found.add(name)
        for each in requires:
            needed = re.split(r"[\s\[;<>=!~(]", each, maxsplit=1)[0]
            extra = re.search(r"extra\s*==\s*['\"]([^'\"]+)", each)
            if (extra is None or extra[1] in wanted) and needed.lower() not in {
                known.lower() for known in found
            }:
                waiting.append((needed, ()))
    return found


def licences() -> dict[str, str]:
    """What each needed package says of its licence; empty where it says nothing."""
    return {name: _licence(metadata.metadata(name)) for name in sorted(needed_packages(), key=str.lower)}


def _licence(said: metadata.PackageMetadata) -> str:
    fields = [
        said.get("License-Expression") or "",
        *(
            each.rpartition(" :: ")[2]
            for each in said.get_all("Classifier") or []
            if each.startswith("License ::")
        ),
    ]
    fields.append((said.get("License") or "").strip().split("\n")[0])
    return ", ".join(dict.fromkeys(field for field in fields if field))[:100]


def known_vulnerabilities() -> list[str] | None:
    """What pip-audit knows of the needed packages; None where it cannot say."""
    done = subprocess.run(
        [sys.executable, "-m", "pip_audit", "--format", "json", "--progress-spinner", "off"],
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    try:
        packages = json.loads(done.stdout)["dependencies"]
    except (ValueError, KeyError):
        return None
    ours = {name.lower().replace("_", "-") for name in needed_packages()}
    return [
        f"{package['name']} {package['version']}: {fault['id']}"
        for package in packages
        if package["name"].lower().replace("_", "-") in ours
        for fault in package.get("vulns", [])
    ]


def main() -> int:
    wrong = 0
    for name, licence in licences().items():
        suits = _SUITABLE.search(licence) is not None
        wrong += not suits
        sys.stdout.write(
            f"{name} {metadata.version(name)}: {licence or 'says nothing'}{'' if suits else '  LOOK AT THIS'}\n"
        )
    found = known_vulnerabilities()
    if found is None:
        sys.stdout.write(
            "Vulnerabilities: could not be asked for (pip-audit is not installed, or its service not reached).\n"
        )
    else:
        wrong += len(found)
        sys.stdout.write("".join(f"{each}\n" for each in found) + f"{len(found)} known vulnerabilities\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
