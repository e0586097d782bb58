"""Make the environment that the workbook runs in, with nothing but Python, venv and pip.

Standard library only. This file parses on Python 3.8, so that a Python too old gets an answer in
words instead of a syntax error.

An environment is a folder in ``.venv``, named by what it is for, the Python that made it and the
digest of its lock file. A changed lock therefore makes a new folder beside the old one: an
environment in use is never rebuilt under the program that uses it. A folder without its stamp is
half-made and is made again. Old folders are removed when nobody uses them, which is told by an
operating-system lock that ends with the process that holds it.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
from typing import Callable, Dict, Iterator, List, Optional, Sequence, Tuple

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

MINIMUM = (3, 11)
LOCKS = {"workbook": "requirements.lock", "tests": "requirements-test.lock"}
EXTRAS: Dict[str, Tuple[str, ...]] = {"workbook": (), "tests": ("test",)}
ROOM_BYTES = 1_500_000_000
STAMP = "made-by-standard-day.json"
IN_USE = "in-use.lock"
PATH_LENGTH_WINDOWS = 66     # of the project's folder; the packages' own paths need the rest of 260

# Results are the same bytes on every run, so numerical libraries add in one order: on one thread.
ONE_THREAD = {
    name: "1"
    for name in (
        "OMP_NUM_THREADS",
        "OPENBLAS_NUM_THREADS",
        "MKL_NUM_THREADS",
        "VECLIB_MAXIMUM_THREADS",
        "NUMEXPR_NUM_THREADS",
    )
}

_NO_LOCKS = (errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP)
_NETWORK = re.compile(
    r"connection broken|ConnectionError|ConnectTimeout|ReadTimeout|Max retries exceeded"
    r"|Failed to establish|Name or service not known|getaddrinfo failed|ProxyError"
    r"|Network is unreachable",
    re.IGNORECASE,
)


class BootError(Exception):
    """The environment cannot be made; the text says why and how to mend it, in plain words."""


def say(text: str) -> None:
    """Tell the person at the keyboard; results alone go to standard output."""
    print(text, file=sys.stderr, flush=True)


def command_words(purpose: str) -> str:
    """Spell the command a person types, as on this operating system."""
    return ("py " if sys.platform == "win32" else "python3 ") + purpose


# ---- the Python that runs this -----------------------------------------------------------------


def check_python(purpose: str, version: Sequence[int], newer: Callable[[], Optional[str]]) -> None:
    """Refuse a Python that is too old, naming a newer one where this computer has it."""
    if tuple(version[:2]) >= MINIMUM:
        return
    needed = "%d.%d" % MINIMUM
    found = "%d.%d" % (version[0], version[1])
    other = newer()
    mend = (
        "A newer one is on this computer. Start with:  %s %s" % (other, purpose)
        if other
        else "Install Python %s or newer, then start again with it." % needed
    )
    raise BootError(
        "Standard Day needs Python %s or newer; this is Python %s (%s).\n%s\nNothing was changed."
        % (needed, found, sys.executable, mend)
    )


def newer_python() -> Optional[str]:
    """Command of a Python on this computer that is new enough and answers, or None."""
    for minor in range(14, MINIMUM[1] - 1, -1):
        version = "3.%d" % minor
        command = ["py", "-" + version] if sys.platform == "win32" else ["python" + version]
        if shutil.which(command[0]) is None:
            continue
        with contextlib.suppress(OSError, subprocess.SubprocessError):
            answer = subprocess.run(
                [*command, "-c", "pass"], timeout=10, check=False, capture_output=True
            )
            if answer.returncode == 0:
                return " ".join(command)
    return None


def lacking(root: str, purpose: str) -> List[str]:
    """What this Python lacks of what ``pyproject.toml`` asks for; empty when it has it all."""
    import tomllib
    from importlib import metadata

    with open(os.path.join(root, "pyproject.toml"), "rb") as file:
        project = tomllib.load(file)["project"]
    wanted = list(project["dependencies"])
    for extra in EXTRAS[purpose]:
        wanted += project["optional-dependencies"][extra]
    missing = []
    for requirement in wanted:
        name, floor = requirement.split(">=")    # a test holds every requirement to this form
        try:
            found = metadata.version(name.strip())
        except metadata.PackageNotFoundError:
            missing.append(requirement)
            continue
        if _release(found) < _release(floor):
            missing.append("%s (has %s)" % (requirement, found))
    return missing


def _release(version: str) -> Tuple[int, ...]:
    """Leading numbers of a version: ``2.4.6rc1`` is (2, 4, 6)."""
    match = re.match(r"[0-9.]+", version.strip())
    numbers = match.group().strip(".") if match else ""
    return tuple(int(part) for part in numbers.split(".") if part)


# ---- the folder of an environment --------------------------------------------------------------


def environment_folder(root: str, purpose: str) -> str:
    """Folder of the environment for this purpose, this Python and this lock file."""
    with open(os.path.join(root, LOCKS[purpose]), "rb") as file:
        lock = file.read().replace(b"\r\n", b"\n")
    digest = hashlib.sha256(lock).hexdigest()[:6]
    return os.path.join(root, ".venv", _prefix(purpose) + digest)


def _prefix(purpose: str) -> str:
    return "%s%d%d-" % (_stem(purpose), *sys.version_info[:2])


def _stem(purpose: str) -> str:
    return "%s-%s" % (purpose, sys.platform[:3])    # short, for the sake of Windows' path lengths


def python_of(folder: str) -> str:
    """The interpreter of an environment."""
    if sys.platform == "win32":
        return os.path.join(folder, "Scripts", "python.exe")
    return os.path.join(folder, "bin", "python")


def state_of(folder: str, root: str) -> str:
    """Say ``ready``, ``absent``, ``half-made``, ``python gone`` or ``moved``."""
    if not os.path.isdir(folder):
        return "absent"
    try:
        with open(os.path.join(folder, STAMP), encoding="utf-8") as file:
            stamp = json.load(file)
    except (OSError, ValueError):
        return "half-made"
    if not _python_lives(folder):
        return "python gone"
    return "ready" if stamp.get("root") == root else "moved"


def _python_lives(folder: str) -> bool:
    """Whether the Python that the environment was made from is still there."""
    if not os.path.exists(python_of(folder)):
        return False
    try:
        with open(os.path.join(folder, "pyvenv.cfg"), encoding="utf-8") as file:
            homes = [line.split("=", 1)[1].strip() for line in file if line.startswith("home")]
    except (OSError, ValueError):
        return False
    return bool(homes) and os.path.isdir(homes[0])


def _write_stamp(folder: str, root: str) -> None:
    path = os.path.join(folder, STAMP)
    with open(path + ".new", "w", encoding="utf-8") as file:
        json.dump({"root": root, "python": sys.version.split()[0]}, file)
    os.replace(path + ".new", path)


# ---- locks: they end with the process that holds them, however it ends ---------------------------


@contextlib.contextmanager
def build_lock(root: str, tell: Callable[[str], None]) -> Iterator[int]:
    """Let one process at a time make environments of this folder; others wait, and say so."""
    place = os.path.join(root, ".venv")
    try:
        os.makedirs(place, exist_ok=True)
        handle = os.open(os.path.join(place, "build.lock"), os.O_RDWR | os.O_CREAT)
    except OSError as error:
        raise BootError(
            "The folder %s cannot be written to (%s).\n"
            "Copy Standard Day to a folder of your own and start it there."
            % (place, error.strerror)
        ) from error
    try:
        if not _try_lock(handle):
            tell(
                "Another start of Standard Day is making an environment in this folder; "
                "waiting for it to end (Ctrl-C stops the wait)."
            )
            while not _try_lock(handle):
                time.sleep(0.3)
        yield handle
    finally:
        os.close(handle)


def _try_lock(handle: int) -> bool:
    try:
        if sys.platform == "win32":
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        return error.errno in _NO_LOCKS    # a disk without locks: go on, as nothing can be asked
    return True


def hold(folder: str) -> Optional[int]:
    """Mark the environment as in use until this process, or what it becomes, ends.

    Returns None where it is just being removed. Windows itself refuses to remove files in use.
    """
    if sys.platform == "win32":
        return -1
    try:
        handle = os.open(os.path.join(folder, IN_USE), os.O_RDONLY)
    except FileNotFoundError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno not in _NO_LOCKS:
            os.close(handle)
            return None
    os.set_inheritable(handle, True)
    return handle


def remove(folder: str) -> bool:
    """Remove an environment unless somebody uses it; say whether it is gone.

    Examples
    --------
    >>> remove("no such folder")
    True
    """
    if not os.path.isdir(folder):
        return True
    going = folder + ".going"
    try:
        handle = os.open(os.path.join(folder, IN_USE), os.O_RDWR | os.O_CREAT)
        try:
            if sys.platform == "win32":
                os.close(handle)    # an open file in it would be in our own way
            elif not _try_lock(handle):
                return False
            shutil.rmtree(going, ignore_errors=True)
            os.rename(folder, going)    # Windows refuses while a program uses a file in it
            shutil.rmtree(going, ignore_errors=True)
        finally:
            if sys.platform != "win32":
                os.close(handle)
    except OSError:
        return False
    return True


def remove_superseded(root: str, purpose: str, keep: str) -> List[str]:
    """Remove this purpose's environments of earlier locks, and those whose Python is gone."""
    place = os.path.join(root, ".venv")
    gone = []
    for name in sorted(os.listdir(place)):
        folder = os.path.join(place, name)
        if folder == keep or not os.path.isdir(folder):
            continue
        ours = name.startswith(_prefix(purpose))
        dead = name.startswith(_stem(purpose)) and not _python_lives(folder)
        if (ours or dead or name.endswith(".going")) and remove(folder):
            gone.append(name)
    return gone


# ---- making one --------------------------------------------------------------------------------


def environment_python(
    root: str,
    purpose: str,
    make: Optional[Callable[[str, str, int, Callable[[str], None]], None]] = None,
    probe: Optional[Callable[[str], bool]] = None,
    tell: Callable[[str], None] = say,
) -> str:
    """Interpreter of the environment for a purpose, which is made first where it must be.

    The environment is held as in use by this process and what it becomes. `make` and `probe`
    stand for the slow steps, so that tests can try every case without fetching anything.
    """
    folder = environment_folder(root, purpose)
    for _ in range(3):    # a superseding start may remove what was ready a moment ago
        if state_of(folder, root) != "ready":
            with build_lock(root, tell) as handle:
                _make_ready(root, purpose, folder, handle, make or make_environment,
                            probe or probe_environment, tell)
        if hold(folder) is not None and state_of(folder, root) == "ready":
            return python_of(folder)
    raise BootError("The environment %s was removed by another program. Start again." % folder)


def _make_ready(
    root: str,
    purpose: str,
    folder: str,
    handle: int,
    make: Callable[[str, str, int, Callable[[str], None]], None],
    probe: Callable[[str], bool],
    tell: Callable[[str], None],
) -> None:
    """Bring the environment from whatever state it is in to ready. The build lock is held."""
    state = state_of(folder, root)
    if state == "ready":
        return
    if state == "moved":
        tell("This folder was moved or copied; looking whether its environment still works.")
        if probe(python_of(folder)):
            _write_stamp(folder, root)
            return
    reason = {
        "absent": "",
        "half-made": "An earlier set-up was cut short; it is done again from the start.",
        "python gone": "The Python that the environment was made with is gone; it is made again.",
        "moved": "It does not work here; it is made again.",
    }[state]
    if reason:
        tell(reason)
    if not remove(folder):
        raise BootError(
            "The environment %s has to be made again, but a program is using it.\n"
            "Close every window of Standard Day and JupyterLab, then start again." % folder
        )
    _check_room(root)
    started = time.monotonic()
    done = False
    try:
        make(root, purpose, handle, tell)
        _write_stamp(folder, root)
        done = True
    finally:
        if not done:
            shutil.rmtree(folder, ignore_errors=True)
    tell("The environment is ready (%.0f s)." % (time.monotonic() - started))
    for name in remove_superseded(root, purpose, folder):
        tell("Removed an environment that is no longer needed: %s" % name)


def _check_room(root: str) -> None:
    if sys.platform == "win32" and len(root) > PATH_LENGTH_WINDOWS and not _long_paths():
        raise BootError(
            "The folder's path is %d characters long; Windows' limit of 260 leaves room for %d.\n"
            "Move Standard Day to a shorter path and start again.\n%s"
            % (len(root), PATH_LENGTH_WINDOWS, root)
        )
    free = shutil.disk_usage(root).free
    if free < ROOM_BYTES:
        raise BootError(
            "The set-up needs about %.1f GB of free disk space in %s; there are %.1f GB.\n"
            "Make room, then start again. Nothing was changed."
            % (ROOM_BYTES / 1e9, root, free / 1e9)
        )


def _long_paths() -> bool:
    """Whether this Windows was told to allow paths over 260 characters."""
    if sys.platform == "win32":
        import winreg

        with contextlib.suppress(OSError):
            key = r"SYSTEM\CurrentControlSet\Control\FileSystem"
            with winreg.OpenKey(winreg.HKEY_LOCAL_MACHINE, key) as handle:
                return winreg.QueryValueEx(handle, "LongPathsEnabled")[0] == 1
    return False


def make_environment(root: str, purpose: str, handle: int, tell: Callable[[str], None]) -> None:
    """Make the environment of a purpose: venv, the packages of its lock, and a pointer to lib/."""
    import importlib.util

    for part in ("venv", "ensurepip"):
        if importlib.util.find_spec(part) is None:
            raise BootError(
                "This Python (%s) cannot make environments: its part `%s` is missing.\n"
                "On Debian and Ubuntu it is in a package of its own: "
                "sudo apt install python%d.%d-venv\n"
                "Elsewhere, install Python afresh with all its parts. Then start again; "
                "nothing was left behind." % (sys.executable, part, *sys.version_info[:2])
            )
    folder = environment_folder(root, purpose)
    what = {"workbook": "120 MB are fetched and 650 MB", "tests": "170 MB are fetched and 850 MB"}
    tell(
        "Setting up Standard Day's environment for `%s`, once.\n"
        "About %s kept in the folder .venv; nothing else on this computer changes.\n"
        "It takes 1 to 3 minutes on a usual connection, longer on a slow one."
        % (command_words(purpose), what[purpose])
    )
    log: List[str] = []
    if _run([sys.executable, "-m", "venv", folder], handle, log.append) != 0:
        raise BootError(
            "Python could not make an environment in %s:\n%s" % (folder, _tail(log))
        )
    with open(os.path.join(folder, IN_USE), "w", encoding="utf-8"):
        pass
    _install(root, purpose, folder, handle, log, tell)
    _point_at_lib(root, folder)


def _install(
    root: str,
    purpose: str,
    folder: str,
    handle: int,
    log: List[str],
    tell: Callable[[str], None],
) -> None:
    lock = os.path.join(root, LOCKS[purpose])
    with open(lock, encoding="utf-8") as file:
        total = len({line.split("==")[0] for line in file if re.match(r"[a-z0-9].*==", line)})
    progress = _Progress(total, tell)

    def listen(line: str) -> None:
        log.append(line)
        progress(line)

    command = [
        python_of(folder), "-I", "-m", "pip", "install", "--disable-pip-version-check",
        "--no-input", "--only-binary=:all:", "--require-hashes", "-r", lock,
    ]
    status = _run(command, handle, listen)
    if status != 0:
        record = os.path.join(root, ".venv", "set-up.log")
        with open(record, "w", encoding="utf-8") as file:
            file.write("\n".join(log) + "\n")
        raise BootError("%s\nThe whole record: %s" % (explain(log), record))


class _Progress:
    """Show what pip is at: one line written over on a terminal, a line now and then elsewhere."""

    def __init__(self, total: int, tell: Callable[[str], None]) -> None:
        self.total, self.count, self.tell = total, 0, tell
        self.terminal = sys.stderr.isatty()

    def __call__(self, line: str) -> None:
        found = re.match(r"Collecting ([\w.-]+)|Processing .*[/\\](\w+)-[0-9]", line)
        if found:
            self.count += 1
            name = found.group(1) or found.group(2)
            text = "  fetching %d of at most %d: %s" % (self.count, self.total, name)
            if self.terminal:
                print("\r%-70s" % text, end="", file=sys.stderr, flush=True)
            elif self.count % 25 == 1:
                self.tell(text)
        elif line.startswith("Installing collected packages"):
            if self.terminal:
                print(file=sys.stderr)
            self.tell("  all fetched; putting them in place (about half a minute)")


def _run(command: List[str], handle: int, listen: Callable[[str], None]) -> int:
    """Run a step, line by line. It holds the build lock too, so that it is waited for if we die."""
    keep = () if sys.platform == "win32" else (handle,)
    with subprocess.Popen(
        command,
        env=_clean_environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
        pass_fds=keep,
    ) as process:
        try:
            for line in process.stdout or ():
                listen(line.rstrip())
            return process.wait()
        finally:
            if process.poll() is None:
                process.terminate()


def _clean_environment() -> Dict[str, str]:
    """Environment without what would send pip's packages elsewhere; index and proxy stay."""
    drop = ["PYTHONHOME", "PYTHONPATH", "__PYVENV_LAUNCHER__"]
    drop += ["PIP_TARGET", "PIP_PREFIX", "PIP_ROOT"]
    kept = {name: value for name, value in os.environ.items() if name not in drop}
    return dict(kept, PIP_USER="0", PIP_REQUIRE_VIRTUALENV="0", PYTHONUTF8="1")


def _point_at_lib(root: str, folder: str) -> None:
    """Let the environment find lib/ by a relative path: plain ASCII, and true after a move."""
    import sysconfig

    site = sysconfig.get_path("purelib", "venv", {"base": folder, "platbase": folder})
    with open(os.path.join(site, "standard-day.pth"), "w", encoding="ascii") as file:
        file.write(os.path.relpath(os.path.join(root, "lib"), site) + "\n")


def probe_environment(python: str) -> bool:
    """Whether an environment that was moved still finds its packages and lib/."""
    command = [python, "-I", "-c", "import stdday, numpy, scipy, pandas, plotly, jupyterlab"]
    with contextlib.suppress(OSError, subprocess.SubprocessError):
        answer = subprocess.run(command, timeout=120, check=False, capture_output=True)
        return answer.returncode == 0
    return False


def explain(log: Sequence[str]) -> str:
    """Say in plain words why pip failed, from what it printed.

    Examples
    --------
    >>> print(explain(["ERROR: [Errno 28] No space left on device"]).splitlines()[0])
    The disk is full.
    """
    text = "\n".join(log)
    after = "Nothing half-made was kept: start again when it is mended."
    if _NETWORK.search(text):
        reason = (
            "The packages could not be fetched: no package index answered.\n"
            "The first start needs a network connection, once; later starts need none.\n"
            "Behind a proxy, or with an index of your own, pip's own settings are used."
        )
    elif "No space left" in text or "Errno 28" in text:
        reason = "The disk is full."
    elif "DO NOT MATCH THE HASHES" in text:
        reason = (
            "A fetched package is not the file that was tested (its fingerprint differs).\n"
            "It was not installed. A proxy that alters downloads, or a broken download, does this."
        )
    elif "No matching distribution" in text:
        reason = (
            "pip found no fitting file for a package. Either it was told to ask no index, or the\n"
            "packages are not made for this Python (%d.%d on %s): 3.11 to 3.13 on Windows, macOS\n"
            "and Linux were foreseen." % (*sys.version_info[:2], sys.platform)
        )
    else:
        reason = "pip could not install the packages."
    return "%s\nWhat pip said last:\n%s\n%s" % (reason, _tail(log), after)


def _tail(log: Sequence[str]) -> str:
    lines = [line for line in log if line.strip() and not line.startswith("Ignoring ")]
    return "\n".join("    " + line[:120] for line in lines[-3:])


# ---- start -------------------------------------------------------------------------------------


def child_environment(root: str) -> Dict[str, str]:
    """Environment for the program: lib/ on its path, one numerical thread, its own kernel."""
    environment = dict(os.environ, **ONE_THREAD)
    for name in ("PYTHONHOME", "__PYVENV_LAUNCHER__"):
        environment.pop(name, None)
    environment["PYTHONPATH"] = os.path.join(root, "lib")
    environment["JUPYTER_PREFER_ENV_PATH"] = "1"
    return environment


def become(command: List[str], environment: Dict[str, str]) -> int:
    """Hand over to the program: in this process where the system can, else waiting for it."""
    sys.stdout.flush()
    sys.stderr.flush()
    if sys.platform == "win32":
        process = subprocess.Popen(command, env=environment)
        while True:
            try:
                return process.wait()
            except KeyboardInterrupt:
                continue    # the program got it too, and says what it does about it
    os.execve(command[0], command, environment)


def find_python(root: str, purpose: str) -> str:
    """Choose the Python: the running one where it has everything, else the environment's."""
    missing = lacking(root, purpose)
    if not missing:
        say("Using the Python that started this, %s: it has all that pyproject.toml asks for."
            % sys.executable)
        return sys.executable
    if os.environ.get("CONDA_PREFIX") == sys.prefix:
        say("This conda environment lacks %s, so an environment of the workbook's own is used\n"
            "(environment.yml lists what a conda environment needs)." % missing[0])
    return environment_python(root, purpose)


def start(root: str, purpose: str, arguments: List[str]) -> int:
    """Run Python with these arguments where everything it needs is at hand.

    Parameters
    ----------
    root : str
        Folder of the project.
    purpose : {"workbook", "tests"}
        Which environment.
    arguments : list of str
        What follows the interpreter on the command line.

    Returns
    -------
    int
        Exit status; 130 after an interruption, 1 after an error told in words.
    """
    try:
        check_python(purpose, sys.version_info[:2], newer_python)
        python = find_python(root, purpose)
        return become([python, "-P", *arguments], child_environment(root))
    except BootError as error:
        say(str(error))
        return 1
    except KeyboardInterrupt:
        say(
            "\nStopped before the set-up was complete. Nothing half-made is kept.\n"
            "The same command starts it again: %s" % command_words(purpose)
        )
        return 130
