"""Fetch the independent reference tools that come from the distribution, where that is possible.

Some tests check our work against libltc, ffprobe, sndfile-info, exiftool and mediainfo, and look at the pages in
Chromium. On Debian or Ubuntu, as root, they are installed; elsewhere the tests that need one are skipped and this says
which. Nothing else depends on them.
"""

from __future__ import annotations

import ctypes.util
import os
import shutil
import subprocess

WANTED = {
    "libltc11": lambda: ctypes.util.find_library("ltc"),
    "ffmpeg": lambda: shutil.which("ffprobe"),
    "sndfile-programs": lambda: shutil.which("sndfile-info"),
    "libimage-exiftool-perl": lambda: shutil.which("exiftool"),
    "mediainfo": lambda: shutil.which("mediainfo"),
    "poppler-utils": lambda: shutil.which("pdftotext"),
    "xxhash": lambda: shutil.which("xxhsum"),
    "chromium": lambda: next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None),
}


def main() -> None:
    """Install what is missing if we may; say what stays missing."""
    missing = [package for package, found in WANTED.items() if not found()]
    if missing and shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
        subprocess.run(["apt-get", "update"], env=environment, check=False, **quiet)
        subprocess.run(
            ["apt-get", "install", "-y", "--no-install-recommends", *missing], env=environment, check=False, **quiet
        )
        missing = [package for package, found in WANTED.items() if not found()]
    if missing:
        print("reference tools not on this machine, so their tests are skipped: " + ", ".join(missing))


if __name__ == "__main__":
    main()
