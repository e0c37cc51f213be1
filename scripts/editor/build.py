"""Bundle the plan's editor into one script that is kept in the package; needed only to take up newer versions of it.

Once, in any folder outside the tree, fetch the sources by the usual package client, then bundle them::

    npm install @codemirror/{autocomplete,commands,lang-yaml,language,lint,search,state,view} @lezer/highlight esbuild
    python scripts/editor/build.py FOLDER/node_modules

The browser is told to refuse style elements (``style-src 'self'``), so the one place in style-mod that makes such an
element is turned to constructed style sheets, which it uses for shadow roots anyway.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
VENDOR = HERE.parents[1] / "src" / "rollsound" / "web" / "static" / "vendor"
ELEMENT = "!root.head && root.adoptedStyleSheets"
SHEETS = "root.adoptedStyleSheets"


def main(modules: Path) -> None:
    """Write ``vendor/codemirror.js`` and its licence note."""
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        shutil.copytree(modules / "style-mod", work / "style-mod")
        source = work / "style-mod" / "src" / "style-mod.js"
        text = source.read_text(encoding="utf-8")
        if text.count(ELEMENT) != 1:
            sys.exit("style-mod chooses between its two ways otherwise than before; look at it again")
        source.write_text(text.replace(ELEMENT, SHEETS), encoding="utf-8")
        shutil.copy(HERE / "editor.js", work / "editor.js")
        out = work / "codemirror.js"
        subprocess.run(
            [
                str(modules / ".bin" / "esbuild"),
                str(work / "editor.js"),
                "--bundle",
                "--format=esm",
                "--minify",
                "--target=es2022",
                "--legal-comments=none",
                f"--alias:style-mod={source}",
                f"--metafile={work / 'meta.json'}",
                f"--outfile={out}",
            ],
            check=True,
            env={"NODE_PATH": str(modules), "PATH": "/usr/bin:/bin"},
        )
        VENDOR.joinpath("codemirror.js").write_text(out.read_text(encoding="utf-8"), encoding="utf-8")
        used = json.loads((work / "meta.json").read_text(encoding="utf-8"))["inputs"]
        VENDOR.joinpath("codemirror.LICENSE.txt").write_text(_note(modules, used), encoding="utf-8")


def _note(modules: Path, used: dict[str, object]) -> str:
    """Which packages are in the bundle, and their licences in full."""
    names = sorted({"style-mod", *(_package(name) for name in used if "node_modules/" in name)})
    lines = ["codemirror.js is a bundle of these packages (made by scripts/editor/build.py):", ""]
    texts: dict[str, list[str]] = {}
    for name in names:
        version = json.loads((modules / name / "package.json").read_text(encoding="utf-8"))["version"]
        lines.append(f"  {name} {version}")
        licence = next((modules / name).glob("LICENSE*")).read_text(encoding="utf-8").strip()
        texts.setdefault(licence, []).append(name)
    for licence, packages in texts.items():
        lines += ["", f"---- {', '.join(packages)} ----", "", licence]
    lines += ["", "style-mod was changed in one condition: it always uses constructed style sheets.", ""]
    return "\n".join(lines)


def _package(name: str) -> str:
    parts = name.rpartition("node_modules/")[2].split("/")
    return "/".join(parts[:2]) if parts[0].startswith("@") else parts[0]


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]).resolve())
