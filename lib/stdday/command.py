"""The command line: check a campaign, run it, make a new one, open it.

``python3 workbook`` makes the environment and then comes here. The module itself imports only
what starts in a moment; pandas, plotly and the rest are imported where a command needs them.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, TextIO

from stdday.errors import Problem, StddayError

if TYPE_CHECKING:
    from tqdm import tqdm

    from stdday.results import Results

__all__ = ["DEMO", "ROOT", "StageProgress", "main"]

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_demo" / "propeller_change"

_PROGRAM = "py workbook" if sys.platform == "win32" else "python3 workbook"
_USAGE = f"""\
{_PROGRAM}                        open the campaign last opened, else the invented example
       {_PROGRAM} FOLDER                 check a campaign, run what changed, open it
       {_PROGRAM} run FOLDER [--out DIR] [--jobs N]
                                               make its results, without opening anything
       {_PROGRAM} check FOLDER           list everything wrong with it
       {_PROGRAM} new FOLDER             start a campaign with files to fill in
       {_PROGRAM} new FOLDER --from RECORDING...
                                               the same, begun from recordings
       {_PROGRAM} look RECORDING [--save FILE]
                                               show what any recording holds, without a campaign"""
_BANNER = """\
Invented example: two propellers on one airplane. The airplane, the field and every flight are made
up, and the truth behind the recordings is kept beside them. Your own: {program} new FOLDER
"""


class StageProgress:
    """Show the progress of a run: one bar a stage on a terminal, short lines elsewhere.

    Called by the run as ``progress(stage, done, total)``. Used in a ``with`` statement, so that an
    unfinished bar is closed before an error is told.

    Parameters
    ----------
    stream : text stream, optional
        Where to write; standard error unless given.

    Examples
    --------
    >>> import sys
    >>> with StageProgress(sys.stdout) as progress:
    ...     progress("read", 0, 2)
    ...     progress("read", 2, 2)
    ...     progress("compare", 1, 1)
    read ...
    read: 2 of 2
    compare: 1 of 1
    """

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._stage = ""
        self._bar: tqdm[None] | None = None

    def __enter__(self) -> StageProgress:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._close()

    def __call__(self, stage: str, done: int, total: int) -> None:
        """Say that `done` of `total` parts of a stage are done."""
        fresh = stage != self._stage
        self._stage = stage
        if self._stream.isatty():
            self._draw(stage, done, total, fresh)
        elif done >= total:
            print(f"{stage}: {done} of {total}", file=self._stream, flush=True)
        elif fresh:
            print(f"{stage} ...", file=self._stream, flush=True)

    def _draw(self, stage: str, done: int, total: int, fresh: bool) -> None:
        from tqdm import tqdm

        if fresh or self._bar is None:
            self._close()
            self._bar = tqdm(desc=f"{stage:<12}", total=total, file=self._stream, ncols=80)
        self._bar.total = total
        self._bar.update(done - self._bar.n)

    def _close(self) -> None:
        if self._bar is not None:
            self._bar.close()
            self._bar = None


def main(arguments: Sequence[str] | None = None) -> int:
    """Carry out one command.

    Parameters
    ----------
    arguments : sequence of str, optional
        What was typed after ``python3 workbook``; taken from the command line unless given.

    Returns
    -------
    int
        Exit status [-]: 0 when it was done (for ``run``: results written; for ``check``: no
        error), 1 when not, 2 for a command that was not understood, 130 after an interruption.

    Examples
    --------
    >>> main(["check", "no such campaign"])
    1
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):    # a sign that a console cannot show is no error
            stream.reconfigure(errors="replace")
    typed = list(sys.argv[1:] if arguments is None else arguments)
    commands: dict[str, Callable[[list[str]], int]] = {
        "run": _run, "check": _check, "new": _new, "look": _look,
    }
    try:
        if typed and typed[0] in commands:
            return commands[typed[0]](typed[1:])
        return _open(typed)
    except StddayError as error:
        _tell(str(error))
    except OSError as error:
        _tell(f"A file could not be read or written: {error}")
    except KeyboardInterrupt:
        _tell("\nStopped. Nothing is half-written: earlier results are as they were.\n"
              "The same command starts it again.")
        return 130
    return 1


def _tell(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def _parser(command: str, description: str) -> argparse.ArgumentParser:
    return argparse.ArgumentParser(prog=f"{_PROGRAM} {command}".rstrip(), description=description)


# ---- the commands --------------------------------------------------------------------------------


def _open(typed: list[str]) -> int:
    parser = argparse.ArgumentParser(
        prog=_PROGRAM, usage=_USAGE, description="Standard Day, a flight-test workbook."
    )
    parser.add_argument("folder", nargs="?", help="a campaign: the folder that holds campaign.toml")
    parser.add_argument(
        "--no-open", action="store_true", help="do everything but start JupyterLab"
    )
    parser.add_argument("--jobs", type=_positive, help="processes to use (default: one a core)")
    options = parser.parse_args(typed)

    from stdday import opening

    folder = _chosen(options.folder)
    if folder.resolve() == DEMO:
        print(_BANNER.format(program=_PROGRAM), flush=True)
    else:
        print(f"Campaign: {folder}\n", flush=True)
    _show(folder, _refreshed(folder, options.jobs))
    if options.folder is not None:
        opening.remember(folder)
    for line in opening.copy_notebooks(ROOT / "workbook", folder, with_outputs=folder == DEMO):
        print(line)
    sys.stdout.flush()
    return 0 if options.no_open else opening.open_jupyterlab(folder)


def _run(typed: list[str]) -> int:
    parser = _parser("run", "Make the results of a campaign. Exit status 0 only when written.")
    parser.add_argument("folder", help="the campaign")
    parser.add_argument("--out", type=Path, help="folder of the results (default: the campaign's)")
    parser.add_argument("--jobs", type=_positive, help="processes to use (default: one a core)")
    options = parser.parse_args(typed)

    folder = _campaign(options.folder)
    from stdday import pipeline

    with StageProgress() as progress:
        results = pipeline.run(
            folder, out=options.out, jobs=options.jobs or _cores(), progress=progress
        )
    _show(folder, results, options.out)
    return 0


def _check(typed: list[str]) -> int:
    parser = _parser("check", "List everything wrong with a campaign. Exit status 0 if no error.")
    parser.add_argument("folder", help="the campaign")
    options = parser.parse_args(typed)

    folder = _campaign(options.folder)
    from stdday.campaign import check_campaign

    problems = check_campaign(folder)
    errors = [problem for problem in problems if problem.level == "error"]
    costs = [problem for problem in problems if problem.level != "error"]
    titles = ("To mend before it can run", "What absent entries cost")
    for title, found in zip(titles, (errors, costs), strict=True):
        if found:
            print(f"{title}:")
            print("\n".join(f"  {problem}" for problem in found) + "\n")
    print(_verdict(errors, costs))
    return 1 if errors else 0


def _verdict(errors: Sequence[Problem], costs: Sequence[Problem]) -> str:
    if errors:
        return f"{len(errors)} to mend; the campaign cannot run yet."
    if costs:
        return f"The campaign can run. {_absent(costs)} something (above)."
    return "The campaign can run; nothing is wrong or absent."


def _absent(costs: Sequence[Problem]) -> str:
    return "1 absent entry costs" if len(costs) == 1 else f"{len(costs)} absent entries cost"


def _new(typed: list[str]) -> int:
    parser = _parser("new", "Start a campaign: a folder of commented files to fill in.")
    parser.add_argument("folder", type=Path, help="a folder that is not there yet, or is empty")
    parser.add_argument("--from", dest="recordings", nargs="+", type=Path, metavar="RECORDING",
                        help="recordings to begin it from; they are copied into logs/")
    options = parser.parse_args(typed)

    if options.recordings:
        return _new_from(options.folder, options.recordings)
    from stdday.new_campaign import write_new_campaign

    write_new_campaign(options.folder)
    print(
        f"Made {options.folder}. Fill in campaign.toml and flights.csv, put the recordings\n"
        f"into logs/, then see what is left to do:  {_PROGRAM} check {_quoted(options.folder)}"
    )
    return 0


def _new_from(folder: Path, recordings: Sequence[Path]) -> int:
    from stdday.new_from import write_campaign_from

    made = write_campaign_from(folder, recordings)
    print(f"Made {folder} from {len(recordings)} recordings, copied into logs/:")
    print("\n".join(f"  {line}" for line in made.flights))
    if made.questions:
        print("\nColumns are proposed, not confirmed. Only you know:")
        print("\n".join(f"  ? {line}" for line in made.questions))
    print("\nAlso only you know the airplane, its weights, the airfield, and which flight was "
          "flown with what:\nfill in campaign.toml and flights.csv, look at columns/, then see "
          f"what is left to do:\n  {_PROGRAM} check {_quoted(folder)}")
    return 0


def _look(typed: list[str]) -> int:
    parser = _parser("look", "Show what a recording holds: proposed columns, rows, a picture.")
    parser.add_argument("recording", type=Path, help="any recording; no campaign is needed")
    parser.add_argument("--save", type=Path, metavar="FILE",
                        help="write the proposed columns file there, and the picture beside it")
    options = parser.parse_args(typed)

    from stdday.look import look_at
    from stdday.look_page import save_look
    from stdday.look_text import look_lines

    looked = look_at(options.recording)
    print("\n".join(look_lines(looked)) + "\n")
    print("\n".join(save_look(looked, options.save)), flush=True)
    return 0 if looked.recording is not None else 1


# ---- what they share -----------------------------------------------------------------------------


def _positive(text: str) -> int:
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError(f"must be at least 1; got {number}")
    return number


def _quoted(path: Path) -> str:
    return f'"{path}"' if " " in str(path) else str(path)


def _cores() -> int:
    """Cores that this process may use [-], at most 4: the demo has eleven recordings to share."""
    allowed = getattr(os, "sched_getaffinity", None)
    count = len(allowed(0)) if allowed is not None else os.cpu_count() or 1
    return min(count, 4)


def _campaign(typed: str) -> Path:
    """Find the campaign folder that was typed, or say why it is none."""
    path = Path(typed)
    folder = path.parent if path.name == "campaign.toml" else path
    if not folder.is_dir():
        raise StddayError(
            f"There is no folder {folder}. Start a campaign there with:  "
            f"{_PROGRAM} new {_quoted(folder)}"
        )
    return folder.resolve()


def _chosen(typed: str | None) -> Path:
    """Choose the campaign typed, else the one last opened, else the demo."""
    from stdday import opening

    if typed is not None:
        return _campaign(typed)
    last = opening.last_opened()
    if last is not None and not (last / "campaign.toml").is_file():
        _tell(f"The campaign last opened, {last}, is not there any more; opening the example.")
        return DEMO
    return last or DEMO


def _refreshed(folder: Path, jobs: int | None) -> Results:
    """Load the results where they are up to date, else make them."""
    from stdday import store

    if store.up_to_date(folder):
        return store.load_results(folder)
    from stdday import pipeline
    from stdday.campaign import check_campaign

    costs = [problem for problem in check_campaign(folder) if problem.level != "error"]
    if costs:
        _tell(f"{_absent(costs)} something; to list:  "
              f"{_PROGRAM} check {_quoted(folder)}")
    _tell("Making the results, because they are not there or something changed.")
    with StageProgress() as progress:
        return pipeline.run(folder, jobs=jobs or _cores(), progress=progress)


def _show(folder: Path, results: Results, out: Path | None = None) -> None:
    """Print the headline table and where the report is."""
    from stdday.tables import headline

    report = (folder / "results" if out is None else out.resolve()) / "report.html"
    print(f"{headline(results)}\n\nReport: {report}", flush=True)


if __name__ == "__main__":
    sys.exit(main())
