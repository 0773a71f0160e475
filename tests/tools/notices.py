"""Every library that the program or its pages carry has its notice, in all three places."""

import json
import os
import pathlib
import re
import subprocess
import unittest

from program import PASSED, ProgramTest

BUILD = pathlib.Path(os.environ["NEEDLETURN_BUILD_DIR"])
SOURCE = pathlib.Path(os.environ["NEEDLETURN_SOURCE_DIR"])
# Headers that leave nothing of theirs in the program that a licence asks a notice for: the compiler's and the C library's
# (GCC Runtime Library Exception; LGPL 2.1, section 5: small inline functions and interfaces), and declarations of what is
# linked when the program starts; and the sanitizers', which nothing that is shipped has.
NOT_CARRIED = re.compile(r"^(libc6-dev|linux-libc-dev|libstdc\+\+-\d+-dev|libgcc-\d+-dev|libclang-(common|rt)-\d+-dev|libhdf5-dev|libssl-dev|zlib1g-dev)$")


def notices():
    """Package -> products that its entry names."""
    text = (SOURCE / "tools/notices.txt").read_text()
    entries = re.findall(r"^\S.* \(((?:npm: )?[\w.+-]+)\); ([\w, ]+)$", text, re.M)
    return {package: set(products.split(", ")) for package, products in entries}


def packages_of_headers(build, targets):
    """Debian packages of all headers that the objects of a build were compiled with."""
    told = subprocess.run(["ninja", "-C", build, "-t", "deps"], capture_output=True, text=True, check=True).stdout
    headers, wanted = set(), False
    for line in told.splitlines():
        if line and not line.startswith(" "):
            wanted = re.match(targets, line) is not None
        elif wanted and line.strip():
            path = pathlib.Path(build, line.strip())
            if path.exists():
                headers.add(str(path.resolve()))
    found = {"emscripten"} if any("/emscripten/" in header for header in headers) else set()
    folders = {}
    for header in headers:
        if header.startswith("/usr/") and "/emscripten/" not in header:
            folders.setdefault(os.path.dirname(header), header)
    told = subprocess.run(["dpkg", "-S", *folders.values()], capture_output=True, text=True).stdout
    return found | {line.split(":")[0] for line in told.splitlines()}


class Notices(ProgramTest):
    def test_every_library_compiled_into_the_program_has_a_notice(self):
        used = packages_of_headers(BUILD, r"(sim|models|scenarios|tools)/CMakeFiles/")
        carried = {name for name in used if not NOT_CARRIED.match(name)}
        self.assertIn("libeigen3-dev", carried)
        told = {name for name, products in notices().items() if "program" in products}
        self.assertEqual(carried, told)

    def test_every_library_in_the_rig_has_a_notice(self):
        rig = SOURCE / "build/rig"
        if not (rig / ".ninja_deps").exists():
            self.skipTest("tools/rig/build has not been run")
        used = packages_of_headers(rig, r"CMakeFiles/(solver|small)\.dir/")
        told = {name for name, products in notices().items() if "rig" in products}
        self.assertEqual({name for name in used if not NOT_CARRIED.match(name)}, told)

    def test_every_package_bundled_into_the_report_has_a_notice(self):
        packages = json.loads((SOURCE / "tools/page/package.json").read_text())["dependencies"]
        told = {name for name, products in notices().items() if "report" in products}
        self.assertEqual({f"npm: {name}" for name in packages}, told)

    def test_the_program_prints_the_notices_and_its_page_has_them(self):
        text = (SOURCE / "tools/notices.txt").read_text()
        result = self.needleturn("--notices")
        self.assertEqual((result.returncode, result.stdout, result.stderr), (PASSED, text, ""))
        self.needleturn("run", SOURCE / "scenarios/nursery-bled.toml", "-o", "run.h5")
        self.needleturn("report", "run.h5", "-o", "page.html")
        page = (self.folder / "page.html").read_text()
        self.assertIn(text.replace("&", "&amp;").replace("<", "&lt;"), page)


if __name__ == "__main__":
    unittest.main()
