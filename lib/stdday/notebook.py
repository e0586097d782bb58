"""What a notebook needs first: the results of the campaign it stands in."""

from __future__ import annotations

from pathlib import Path

from stdday import store
from stdday.errors import StddayError
from stdday.pipeline import run
from stdday.results import Results

__all__ = ["campaign_folder", "open_results"]

#: Campaign of the notebooks that stand in ``workbook/`` itself: the invented example.
DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "propeller_change"


def campaign_folder(start: Path | None = None) -> Path:
    """Find the campaign that a notebook belongs to.

    Parameters
    ----------
    start : Path, optional
        Folder to start from; the working folder where not given.

    Returns
    -------
    Path
        The nearest folder at or above it with a ``campaign.toml``, else the invented example.

    Raises
    ------
    StddayError
        Where neither is there.
    """
    here = (start or Path.cwd()).resolve()
    for folder in (here, *here.parents):
        if (folder / "campaign.toml").is_file():
            return folder
    if (DEMO / "campaign.toml").is_file():
        return DEMO
    raise StddayError(
        "campaign.toml: not found at or above this folder. Mend: open the notebooks with "
        "python3 workbook FOLDER, which puts a copy into the campaign."
    )


def open_results(folder: Path | str | None = None) -> Results:
    """Results of a campaign, made first where an input has changed.

    Parameters
    ----------
    folder : Path or str, optional
        Campaign folder; the one the notebook stands in where not given.

    Returns
    -------
    Results

    Raises
    ------
    StddayError
        Where the campaign has errors.
    """
    found = Path(folder) if folder is not None else campaign_folder()
    if store.up_to_date(found):
        return store.load_results(found)
    return run(found)
