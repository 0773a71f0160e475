"""The arrows of DEVELOPERS.md hold for every header: what no arrow leads to cannot be included.

Asked of the compiler, with the folders that each room sees, as CMake wrote them into include/seen_by_<room>. That every
header of a room compiles with them is built (headers_of_<room> in tests/CMakeLists.txt)."""

import os
import pathlib
import subprocess
import tempfile
import unittest

BUILD = pathlib.Path(os.environ["NEEDLETURN_BUILD_DIR"])
# One header of each room, and the rooms that see it: contract <- numerics <- sim, contract <- models <- scenarios, both of
# them <- studies <- results <- commands; scenarios <- page <- commands.
HEADERS = {
    "contract": "sim/contract/model.h",
    "numerics": "sim/dual.h",
    "sim": "sim/results_file.h",
    "models": "models/station.h",
    "scenarios": "scenarios/scenario.h",
    "studies": "tools/studies/simulate.h",
    "results": "tools/results/map_file.h",
    "commands": "tools/commands/run.h",
    "page": "tools/page/page_asset.h",
}
SEES = {
    "contract": {"contract"},
    "numerics": {"contract", "numerics"},
    "sim": {"contract", "numerics", "sim"},
    "models": {"contract", "models"},
    "scenarios": {"contract", "models", "scenarios"},
    "studies": {"contract", "numerics", "sim", "models", "scenarios", "studies"},
    "results": {"contract", "numerics", "sim", "models", "scenarios", "studies", "results"},
    "commands": {"contract", "numerics", "sim", "models", "scenarios", "studies", "results", "page", "commands"},
    "page": {"contract", "models", "scenarios", "page"},
}


def folders_of(room):
    return [f"-I{folder}" for folder in (BUILD / "include" / f"seen_by_{room}").read_text().split()]


def compiled(room, text):
    with tempfile.TemporaryDirectory() as folder:
        probe = pathlib.Path(folder) / "probe.cpp"
        probe.write_text(text)
        return subprocess.run(
            ["c++", "-std=c++20", "-fsyntax-only", *folders_of(room), probe], capture_output=True, text=True, cwd=folder
        )


@unittest.skipUnless((BUILD / "include/seen_by_contract").exists(), "built with sanitizers: the other build asks")
class Arrows(unittest.TestCase):
    def test_a_room_sees_the_headers_that_its_arrows_lead_to_and_no_other(self):
        for room, sees in SEES.items():
            probe = "".join(
                f'#if __has_include("{header}")\nstatic_assert(false, "sees {of};");\n#endif\n'
                for of, header in HEADERS.items()
            )
            told = compiled(room, probe).stderr
            self.assertEqual({of for of in HEADERS if f"sees {of};" in told}, sees, room)

    def test_a_model_that_includes_numerics_does_not_compile(self):
        right = compiled("models", '#include "models/station.h"\n')
        self.assertEqual(right.returncode, 0, right.stderr)
        wrong = compiled("models", '#include "models/station.h"\n#include "sim/dual.h"\n')
        self.assertNotEqual(wrong.returncode, 0)
        self.assertIn("sim/dual.h: No such file", wrong.stderr)


if __name__ == "__main__":
    unittest.main()
