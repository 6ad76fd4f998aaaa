"""Nothing that only one family of systems has is needed to import the program, and every pin knows the Pythons that we name."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
IMPORT_ALL = """
import sys
for name in ("fcntl", "resource", "pwd", "grp", "termios", "syslog", "posix_ipc"):
    sys.modules.pop(name, None)
import importlib, pkgutil
class Missing:
    def find_spec(self, name, path=None, target=None):
        if name in ("fcntl", "resource", "pwd", "grp", "termios", "syslog"):
            raise ImportError(name + " is not there")
sys.meta_path.insert(0, Missing())
import schemas, warehouse, pipelines, reports
ours = [m.name for p in (schemas, warehouse, pipelines, reports) for m in pkgutil.walk_packages(p.__path__, p.__name__ + ".")]
for name in ours:
    if not name.startswith(("pipelines.flows", "pipelines.desk")):
        importlib.import_module(name)
print(len(ours))
"""


def test_no_module_needs_what_only_posix_has() -> None:
    done = subprocess.run([sys.executable, "-c", IMPORT_ALL], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-1500:]
    assert int(done.stdout) > 200


def test_another_package_of_the_same_name_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "schemas").mkdir()
    (tmp_path / "schemas" / "__init__.py").write_text("")
    program = f"import sys; sys.path[:0] = [{str(tmp_path)!r}, {str(ROOT)!r}]; from pipelines.cli.start import run; run()"
    done = subprocess.run([sys.executable, "-c", program], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr.count("\n")) == (1, 1)
    assert "another package called schemas" in done.stderr


def test_without_one_the_command_starts() -> None:
    program = "import sys; sys.argv = ['speedworth', '--help']; from pipelines.cli.start import run; run()"
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, "Exit codes" in done.stdout) == (0, True)
