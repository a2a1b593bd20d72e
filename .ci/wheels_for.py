"""Whether every dependency of a wheel can be had as a wheel for another Python.

Usage: ``wheels_for.py 3.13 FILE.whl FOLDER``. The markers of the wheel are read as that Python
would read them (pip itself reads them as the Python it runs on).
"""

from __future__ import annotations

import subprocess
import sys
import zipfile
from email import message_from_bytes

from packaging.requirements import Requirement


def needed(wheel: str, version: str) -> list[str]:
    """Return the requirements of ``wheel`` that hold for Python ``version``, without extras."""
    with zipfile.ZipFile(wheel) as archive:
        name = next(n for n in archive.namelist() if n.endswith(".dist-info/METADATA"))
        metadata = message_from_bytes(archive.read(name))
    environment = {"python_version": version, "python_full_version": f"{version}.0", "extra": ""}
    found = []
    for text in metadata.get_all("Requires-Dist", []):
        requirement = Requirement(text)
        if requirement.marker is None or requirement.marker.evaluate(environment):
            found.append(f"{requirement.name}{requirement.specifier}")
    return found


def main(version: str, wheel: str, folder: str) -> int:
    """Download what is needed; the exit code is pip's."""
    command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--dest", folder]
    command += ["--only-binary=:all:", "--python-version", version, *needed(wheel, version)]
    return subprocess.run(command, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:4]))
