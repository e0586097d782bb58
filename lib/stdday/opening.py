"""Open a campaign: its own copy of the notebooks, and JupyterLab for a person.

JupyterLab is started on this computer only (loopback), with its access token on and its settings
in a folder of the workbook's own, so that neither a person's other settings nor its news pop-up
get in the way.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import socket
import subprocess
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

__all__ = [
    "STATE_VARIABLE",
    "copy_notebooks",
    "jupyterlab_command",
    "jupyterlab_environment",
    "last_opened",
    "open_jupyterlab",
    "remember",
    "state_folder",
]

STATE_VARIABLE = "STDDAY_STATE"
_RECORD = ".copied.json"
_NEWS = Path("@jupyterlab") / "apputils-extension" / "notification.jupyterlab-settings"


# ---- what is remembered between starts -----------------------------------------------------------


def state_folder(
    environment: Mapping[str, str] | None = None, platform: str | None = None
) -> Path:
    """Folder where the workbook remembers things for this person.

    Parameters
    ----------
    environment : mapping of str to str, optional
        Environment variables; those of this process unless given. ``STDDAY_STATE`` names the
        folder outright.
    platform : str, optional
        As ``sys.platform``; this computer's unless given.

    Returns
    -------
    pathlib.Path
        The folder, which need not exist.

    Examples
    --------
    >>> state_folder({"XDG_STATE_HOME": "my/state"}, "linux").as_posix()
    'my/state/standard-day'
    >>> state_folder({"STDDAY_STATE": "elsewhere"}).as_posix()
    'elsewhere'
    """
    known = os.environ if environment is None else environment
    if known.get(STATE_VARIABLE):
        return Path(known[STATE_VARIABLE])
    system = sys.platform if platform is None else platform
    if system == "win32":
        base = known.get("LOCALAPPDATA") or str(Path.home() / "AppData" / "Local")
        return Path(base) / "Standard Day"
    if system == "darwin":
        return Path.home() / "Library" / "Application Support" / "Standard Day"
    base = known.get("XDG_STATE_HOME") or str(Path.home() / ".local" / "state")
    return Path(base) / "standard-day"


def remember(folder: Path) -> None:
    """Keep a campaign as the one last opened; a state folder that cannot be written is no error.

    Parameters
    ----------
    folder : pathlib.Path
        The campaign.

    Examples
    --------
    >>> import os, tempfile
    >>> os.environ["STDDAY_STATE"] = tempfile.mkdtemp()
    >>> remember(Path("my_campaign"))
    >>> last_opened() == Path("my_campaign").resolve()
    True
    >>> del os.environ["STDDAY_STATE"]
    """
    text = json.dumps({"campaign": str(folder.resolve())})
    with contextlib.suppress(OSError):
        _write(state_folder() / "opened.json", text.encode())


def last_opened() -> Path | None:
    """Campaign last opened by this person.

    Returns
    -------
    pathlib.Path or None
        The campaign, which may be gone by now; None when none was opened or nothing can be read.

    Examples
    --------
    >>> import os
    >>> os.environ["STDDAY_STATE"] = "no such folder"
    >>> print(last_opened())
    None
    >>> del os.environ["STDDAY_STATE"]
    """
    try:
        kept = json.loads((state_folder() / "opened.json").read_text(encoding="utf-8"))
        return Path(kept["campaign"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _write(path: Path, data: bytes) -> None:
    """Write a file whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    new = path.with_name(path.name + ".new")
    new.write_bytes(data)
    new.replace(path)


# ---- the campaign's own copy of the notebooks ----------------------------------------------------


def copy_notebooks(source: Path, campaign: Path, with_outputs: bool) -> list[str]:
    """Give a campaign its own copy of the notebooks, never over one that a person edited.

    A copy counts as edited when its cells differ from those that were copied; running it does not
    count. An unedited copy is brought up to date when the workbook's own notebook changed.

    Parameters
    ----------
    source : pathlib.Path
        Folder of the workbook's own notebooks.
    campaign : pathlib.Path
        The campaign; its ``notebooks`` folder is made where it is not there.
    with_outputs : bool
        Whether to keep the stored outputs. They are those of the demo, so in any other campaign
        they would be another airplane's numbers.

    Returns
    -------
    list of str
        What a person should know: each edited copy that is now older than the workbook's own.

    Examples
    --------
    >>> import tempfile
    >>> copy_notebooks(Path("no notebooks here"), Path(tempfile.mkdtemp()), with_outputs=False)
    []
    """
    target = campaign / "notebooks"
    record = _read_record(target / _RECORD)
    told = []
    for notebook in sorted(source.glob("*.ipynb")):
        content = json.loads(notebook.read_text(encoding="utf-8"))
        fresh, copy = _cells(content), target / notebook.name
        found = _cells_of_file(copy)
        if found in (None, record.get(notebook.name)) and found != fresh:
            _write(copy, _as_copied(content, with_outputs))
            record[notebook.name] = fresh
        elif found == fresh:
            record[notebook.name] = fresh
        elif record.get(notebook.name) != fresh:
            told.append(
                f"Your edited notebooks/{notebook.name} is kept; the workbook's own has changed "
                "since. Rename yours to get the new one at the next start."
            )
    if record:
        _write(target / _RECORD, (json.dumps(record, indent=1, sort_keys=True) + "\n").encode())
    return told


def _read_record(path: Path) -> dict[str, str]:
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return kept if isinstance(kept, dict) else {}


def _cells(notebook: dict[str, Any]) -> str:
    """Fingerprint of what a person writes in a notebook: kinds and texts of its cells."""
    cells = [(cell["cell_type"], "".join(cell["source"])) for cell in notebook["cells"]]
    return hashlib.sha256(json.dumps(cells).encode()).hexdigest()


def _cells_of_file(path: Path) -> str | None:
    """Fingerprint of a notebook file: None when it is not there, empty when it is unreadable."""
    try:
        return _cells(json.loads(path.read_text(encoding="utf-8")))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError):
        return ""


def _as_copied(notebook: dict[str, Any], with_outputs: bool) -> bytes:
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code" and not with_outputs:
            cell.update(outputs=[], execution_count=None)
    return (json.dumps(notebook, indent=1, ensure_ascii=False) + "\n").encode()


# ---- JupyterLab ----------------------------------------------------------------------------------


def free_port() -> int:
    """Port of this computer [-] that nothing listens on."""
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


def jupyterlab_command(campaign: Path, port: int) -> list[str]:
    """Command that opens JupyterLab at the start page of a campaign.

    Parameters
    ----------
    campaign : pathlib.Path
        The campaign, which becomes the folder that JupyterLab shows.
    port : int
        Port to listen on [-], on the loopback address only.

    Returns
    -------
    list of str
        The command.

    Examples
    --------
    >>> "--ServerApp.ip=127.0.0.1" in jupyterlab_command(Path("campaign"), 8888)
    True
    """
    notebooks = sorted((campaign / "notebooks").glob("*.ipynb"))
    page = f"/lab/tree/notebooks/{notebooks[0].name}" if notebooks else "/lab"
    command = [
        sys.executable, "-P", "-m", "jupyterlab",
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=20",
        f"--ServerApp.root_dir={campaign}",
        f"--LabApp.default_url={page}",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.extension_manager=readonly",
        "--ServerApp.answer_yes=True",
        "--KernelManager.transport_encryption=auto",
        "--log-level=WARN",
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    return command


def jupyterlab_environment(campaign: Path, state: Path) -> dict[str, str]:
    """Environment of JupyterLab: settings of the workbook's own, and the mark of an opened one.

    Parameters
    ----------
    campaign : pathlib.Path
        The campaign; each has its own arrangement of windows.
    state : pathlib.Path
        Folder for settings, as from `state_folder`.

    Returns
    -------
    dict of str to str
        Environment variables. ``STDDAY_OPENED`` tells the notebooks that a person is there, so
        that they show what can be clicked.

    Examples
    --------
    >>> jupyterlab_environment(Path("campaign"), Path("state"))["STDDAY_OPENED"]
    '1'
    """
    environment = dict(os.environ)
    for name in ("JUPYTER_TOKEN", "JUPYTER_TOKEN_FILE", "JUPYTER_CONFIG_PATH"):
        environment.pop(name, None)    # none of them may switch the access token off
    digest = hashlib.sha256(str(campaign).encode()).hexdigest()[:12]
    jupyter = state / "jupyter"
    environment.update(
        STDDAY_OPENED="1",
        JUPYTER_CONFIG_DIR=str(jupyter / "config"),
        JUPYTERLAB_SETTINGS_DIR=str(jupyter / "settings"),
        JUPYTERLAB_WORKSPACES_DIR=str(jupyter / "windows" / digest),
    )
    return environment


def open_jupyterlab(
    campaign: Path, become: Callable[[list[str], dict[str, str]], int] | None = None
) -> int:
    """Start JupyterLab at the start page of a campaign and stay until it ends.

    Parameters
    ----------
    campaign : pathlib.Path
        The campaign, with its copy of the notebooks.
    become : callable, optional
        Runs the command in the environment given with it; replaced in tests.

    Returns
    -------
    int
        Exit status of JupyterLab [-].

    Raises
    ------
    OSError
        When no folder for the settings can be made.

    Examples
    --------
    >>> import tempfile
    >>> open_jupyterlab(Path(tempfile.mkdtemp()), become=lambda command, environment: 0)
    Opening JupyterLab in the browser. Its address, should no page appear, follows.
    To end: File > Shut Down in JupyterLab, or Ctrl-C here.
    0
    """
    state = state_folder()
    news = state / "jupyter" / "settings" / _NEWS
    if not news.exists():
        _write(news, b'{"fetchNews": "false"}\n')
    print(
        "Opening JupyterLab in the browser. Its address, should no page appear, follows.\n"
        "To end: File > Shut Down in JupyterLab, or Ctrl-C here.",
        flush=True,
    )
    command = jupyterlab_command(campaign, free_port())
    return (become or _become)(command, jupyterlab_environment(campaign, state))


def _become(command: list[str], environment: dict[str, str]) -> int:
    """Hand over to a program: in this process where the system can, else waiting for it."""
    if sys.platform == "win32":
        process = subprocess.Popen(command, env=environment)
        while True:
            try:
                return process.wait()
            except KeyboardInterrupt:
                continue    # JupyterLab got it too
    os.execve(command[0], command, environment)
