"""The set-up script: what it says when it cannot go on, and what it does again after a bad end.

Each test runs a copy of the script in a folder of its own, with a PATH that holds a few stubs and nothing
else: nothing is installed and no network asked, whatever machine and user runs the tests.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from hanging import HANG_S

ROOT = Path(__file__).resolve().parents[1]
TOOLS = ("cat", "cp", "dirname", "env", "flock", "mkdir", "mv", "rm")
VENV_PACKAGE = f"python{sys.version_info.major}.{sys.version_info.minor}-venv"

# The real Python, but one that says of itself what a test wants, and that notes what it would build.
PYTHON = """#!/bin/sh
case "$*" in
*_base_executable*) echo "{stub}" ;;
*{lacks}*) exit 1 ;;
*libngspice* | *ensurepip*) exit 0 ;;
"-m venv"*) echo "$*" >&2; mkdir -p .venv/bin; cp "$0" .venv/bin/python ;;
"-m pip"*) echo "$*" >&2; exit {pip_status} ;;
*) exec {python} "$@" ;;
esac
"""


class Machine:
    """A checkout with the script in it, and the commands that its PATH has."""

    def __init__(self, folder: Path) -> None:
        self.checkout = folder / "checkout"
        self.bin = folder / "bin"
        self.bin.mkdir()
        for tool in TOOLS:
            (self.bin / tool).symlink_to(str(shutil.which(tool)))
        self.has("id", "echo 1000")
        (self.checkout / ".ci").mkdir(parents=True)
        shutil.copy(ROOT / ".ci" / "setup.sh", self.checkout / ".ci")
        shutil.copy(ROOT / "pyproject.toml", self.checkout)

    def has(self, command: str, text: str) -> None:
        """Put a command on the PATH, from what it runs."""
        file = self.bin / command
        file.write_text(text if text.startswith("#!") else f"#!/bin/sh\n{text}\n", encoding="utf-8")
        file.chmod(0o755)

    def has_python(self, *, lacks: str = "nothing", pip_status: int = 0) -> None:
        stub = self.bin / "python3"
        self.has(
            "python3", PYTHON.format(stub=stub, lacks=lacks, pip_status=pip_status, python=sys.executable)
        )

    def set_up(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["/bin/sh", ".ci/setup.sh", *arguments],
            cwd=self.checkout,
            env={"PATH": str(self.bin)},
            capture_output=True,
            text=True,
            timeout=HANG_S,
            check=False,
        )

    def refusal(self, *arguments: str) -> str:
        """Run the set-up where it has to stop, and return the one line it says."""
        done = self.set_up(*arguments)
        assert done.returncode == 2
        assert done.stdout == ""
        assert not (self.checkout / ".venv").exists()
        return done.stderr


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path)


def test_no_python_at_all(machine: Machine) -> None:
    assert machine.refusal() == (
        "coldiron set-up: no python3 here: install Python 3.11 or newer"
        " (on Debian: apt-get install python3), then run again\n"
    )


def test_an_older_python_is_named(machine: Machine) -> None:
    machine.has("python3", '[ "$1" = -V ] && echo Python 3.9.2\nexit 1')
    assert machine.refusal() == (
        "coldiron set-up: python3 is Python 3.9.2, but 3.11 or newer is needed:"
        " name one, such as: make PYTHON=python3.12\n"
    )


@pytest.mark.parametrize(
    ("lacks", "package"),
    [("libngspice", "libngspice0"), ("ensurepip", VENV_PACKAGE)],
    ids=["library", "venv"],
)
def test_no_apt_get(machine: Machine, lacks: str, package: str) -> None:
    machine.has_python(lacks=lacks)
    assert machine.refusal() == (
        f"coldiron set-up: missing {package} (Debian's names), and no apt-get here:"
        " install them your system's way, then run again\n"
    )


def test_no_right_to_install(machine: Machine) -> None:
    machine.has_python(lacks="libngspice")
    machine.has("apt-get", "echo apt-get was called >&2")
    machine.has("sudo", "echo sudo: a password is required >&2; exit 1")
    assert machine.refusal() == (
        "coldiron set-up: missing libngspice0, and no right to install:"
        " have 'apt-get install libngspice0' run as root, then run again\n"
    )


def test_programs_that_only_tests_run_are_asked_for_by_tests_alone(machine: Machine) -> None:
    machine.has_python(lacks="libngspice")
    assert "missing libngspice0 (" in machine.refusal()
    assert "missing libngspice0 ngspice chromium chromium-driver (" in machine.refusal("test")


@pytest.mark.parametrize("user", ["root", "sudo"])
def test_apt_get_that_fails_is_followed_by_one_line(machine: Machine, user: str) -> None:
    machine.has_python(lacks="libngspice")
    machine.has("apt-get", 'echo "E: $*" >&2; exit 100')
    if user == "root":
        machine.has("id", "echo 0")
    else:
        machine.has("sudo", '[ "$1" = -n ] && shift; [ "$1" = true ] || exec "$@"')
    done = machine.set_up()
    assert done.returncode == 2
    assert done.stdout == "coldiron set-up: installing libngspice0\n"
    update, install, last = done.stderr.splitlines()
    assert update == "E: -qq update"
    assert install.endswith(" install --yes --no-install-recommends libngspice0")
    assert last == (
        "coldiron set-up: apt-get did not install libngspice0 (its words are above):"
        " put that right, then run again"
    )


MAKE_VENV = "-m venv --clear .venv"
INSTALL = "-m pip install -qq --disable-pip-version-check --editable ."


def test_a_finished_set_up_is_left_alone(machine: Machine) -> None:
    machine.has_python()
    first = machine.set_up()
    assert first.returncode == 0, first.stderr
    assert first.stderr.splitlines() == [MAKE_VENV, INSTALL]
    second = machine.set_up()
    assert (second.returncode, second.stdout, second.stderr) == (0, "", "")


def test_a_set_up_that_broke_off_starts_from_nothing(machine: Machine) -> None:
    machine.has_python(pip_status=1)
    broken = machine.set_up()
    assert broken.returncode == 2
    assert broken.stderr.splitlines()[-1] == (
        "coldiron set-up: pip did not install the package (its words are above):"
        " put that right, then run again"
    )
    machine.has_python()
    assert machine.set_up().stderr.splitlines() == [MAKE_VENV, INSTALL]


def test_other_dependencies_are_added_to_what_is_there(machine: Machine) -> None:
    machine.has_python()
    machine.set_up()
    with (machine.checkout / "pyproject.toml").open("a", encoding="utf-8") as file:
        file.write("# one more line\n")
    assert machine.set_up().stderr.splitlines() == [INSTALL]
    assert machine.set_up().stderr == ""


def installs(machine: Machine, *words: str) -> list[str]:
    """What a set-up installs: the words after the options of pip."""
    return [line.rpartition(" ")[2] for line in machine.set_up(*words).stderr.splitlines() if "pip" in line]


def test_the_demo_installs_no_tools_of_developers(machine: Machine) -> None:
    machine.has_python()
    for program in ("ngspice", "chromium", "chromedriver"):
        machine.has(program, "true")
    assert installs(machine) == ["."]
    assert installs(machine, "docs") == [".[docs]"]
    assert installs(machine, "develop") == [".[dev]"]
    # Who has more keeps it: neither a demo nor the pages take the tools away again.
    for words in ((), ("docs",), ("develop",), ("test",), ("bench",)):
        assert installs(machine, *words) == []
    with (machine.checkout / "pyproject.toml").open("a", encoding="utf-8") as file:
        file.write("# one more line\n")
    assert installs(machine) == [".[dev]"]


@pytest.mark.parametrize("gone", ["the checkout moved", "its Python went"])
def test_an_environment_that_cannot_work_is_built_anew(machine: Machine, gone: str) -> None:
    machine.has_python()
    machine.set_up()
    if gone == "the checkout moved":
        machine.checkout = machine.checkout.rename(machine.checkout.with_name("moved"))
    else:
        (machine.checkout / ".venv" / "bin" / "python").unlink()
    assert machine.set_up().stderr.splitlines() == [MAKE_VENV, INSTALL]
