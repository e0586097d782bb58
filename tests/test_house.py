"""The house rules that a machine can check: layers, sizes, notebooks, addresses and paths."""

from __future__ import annotations

import ast
import getpass
import json
import re
import socket
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "lib" / "stdday"
NOTEBOOKS = sorted((ROOT / "workbook").glob("*.ipynb"))
LINES_MODULE = 600
LINES_CELL = 10
BYTES_NOTEBOOK = 200_000

# Which layer each module is of. Imports go down a layer, or sideways without a circle.
# A new module is entered here, which is the moment to think where it belongs.
LAYERS: dict[str, tuple[str, ...]] = {
    "base": (
        "__init__", "_arrays", "_ranges", "draw_fit", "errors", "metrics", "money",
        "statistics", "uncertainty", "unit_names", "units", "workers",
    ),
    "physics": (
        "airspeed", "atmosphere", "blade", "climb", "climb_curve", "engine", "landing",
        "legs", "level", "pattern_curve", "pattern_fit", "pattern_legs",
        "position_error", "power_chart", "power_model", "propeller", "range_fuel",
        "roll", "takeoff", "wind",
    ),
    "data": (
        "archive", "bands", "campaign", "campaign_checks", "campaign_defaults",
        "campaign_fields", "campaign_file", "campaign_tables", "campaign_types",
        "campaign_values", "candidates", "card_files", "card_points", "channels",
        "columns", "columns_types", "csv_tables", "decisions", "delays",
        "find_accelerations", "find_circles", "find_climbs", "find_landings",
        "find_legs", "find_level_runs", "find_lift", "find_liftoff", "find_patterns",
        "find_takeoffs", "find_touchdown", "flight_rows", "flights", "ground_velocity",
        "landing_state", "leg_state", "liftoff_channels", "log_entry", "names",
        "new_campaign", "pattern_shape", "points", "propose", "propose_checks",
        "propose_evidence", "propose_layout", "propose_options", "propose_time",
        "propose_toml", "propose_types", "propose_units", "propose_values",
        "propose_words", "recording", "recording_bytes", "recording_cache",
        "recording_channels", "recording_checks", "recording_checks_air",
        "recording_checks_lags", "recording_checks_north", "recording_checks_rows",
        "recording_checks_units", "recording_file", "recording_header",
        "recording_join", "recording_offset", "recording_part", "recording_rows",
        "recording_sessions", "recording_stamps", "recording_time", "recording_twice",
        "recording_types", "recording_view", "roll_fit", "segments", "signals",
        "steady", "survey", "survey_cache", "takeoff_near", "takeoff_state",
        "takeoff_times", "toml_lines", "tracks", "tracks_gpx", "tracks_igc",
        "tracks_kind", "tracks_nmea", "tracks_speed", "tracks_types",
    ),
    "results": (
        "airplane_answers", "airplane_model", "airplane_tables", "balance", "budget",
        "calibrate", "calibrate_fit", "calibrate_legs", "calibrate_words",
        "climb_answers", "climb_model", "compare", "conditions", "decide", "details",
        "how_many", "influence", "landing_habits", "ledger", "level_fit",
        "margin_tables", "margins", "more_flights", "moves", "outcome", "ranking",
        "reduce_acceleration", "reduce_climb", "reduce_landing", "reduce_level",
        "reduce_takeoff", "results", "results_airplane", "results_calibration",
        "results_json", "results_points", "runways", "sense", "state", "store",
        "takeoff_air", "takeoff_handbook", "takeoff_roll", "takeoff_tables",
        "takeoff_wind", "throttle",
    ),
    "pages": (    # the pipeline is here because its last stage writes the report
        "captions", "cards", "command", "display", "extract", "layout", "look",
        "look_page", "look_text", "new_from", "notebook", "notebook_airplane",
        "notebook_calibration", "opening", "picture", "picture_svg", "pipeline",
        "plots", "plots_airplane", "plots_calibration", "plots_flights",
        "plots_results", "plots_takeoff", "report", "tables", "tables_airplane",
        "tables_calibration", "tables_corrections", "tables_inputs", "tables_points",
        "tables_sceptic", "tables_takeoff", "validation", "validation_air",
        "validation_flight", "validation_items", "validation_power",
        "validation_statistics", "validation_steps", "words",
    ),
}
ORDER = list(LAYERS)
NEVER_IN_PHYSICS = {"pandas", "pathlib", "os", "tomllib", "pydantic", "json", "csv"}


def layer_of(module):
    for layer, modules in LAYERS.items():
        if module in modules:
            return layer
    raise AssertionError(f"lib/stdday/{module}.py is in no layer of tests/test_house.py")


def modules():
    return sorted(path.stem for path in PACKAGE.glob("*.py"))


def imports_of(path):
    """Names imported by a file, wherever in it, but for those that only type checkers see."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for_types = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            for_types |= {id(inner) for inner in ast.walk(node)}
    for node in ast.walk(tree):
        if id(node) in for_types:
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            own = [path.parent.name] if node.level else []    # a relative import
            base = ".".join([*own, *filter(None, [node.module])])
            yield base
            yield from (f"{base}.{alias.name}" for alias in node.names)


def own_imports(module):
    """Modules of the package that a module imports."""
    names = imports_of(PACKAGE / f"{module}.py")
    found = {name.split(".")[1] for name in names if re.match(r"stdday\.\w", name)}
    return (found & set(modules())) - {module}


@pytest.mark.parametrize("module", modules())
def test_imports_go_down_or_sideways(module):
    level = ORDER.index(layer_of(module))
    upward = {name for name in own_imports(module) if ORDER.index(layer_of(name)) > level}
    assert upward == set()


def test_layers_name_each_module_once():
    named = [module for group in LAYERS.values() for module in group]
    assert sorted(named) == modules()


def test_no_circles():
    graph = {module: own_imports(module) for module in modules()}
    done: set[str] = set()

    def visit(module, above):
        assert module not in above, " -> ".join([*above, module])
        if module not in done:
            for name in sorted(graph[module]):
                visit(name, [*above, module])
            done.add(module)

    for module in graph:
        visit(module, [])


@pytest.mark.parametrize("module", LAYERS["physics"])
def test_physics_knows_no_files_and_no_tables(module):
    found = {name.split(".")[0] for name in imports_of(PACKAGE / f"{module}.py")}
    assert found & NEVER_IN_PHYSICS == set()


def test_every_layer_holds_something():
    assert all(LAYERS.values())


def test_the_program_that_makes_the_demo_knows_nothing_of_the_library():
    """Else the demo would only show that the library agrees with itself."""
    paths = sorted((ROOT / "data_demo").rglob("*.py"))
    assert paths, "the program that makes the demo is missing"
    for path in paths:
        found = {name.split(".")[0] for name in imports_of(path)}
        assert found & {"stdday", "boot"} == set(), path


@pytest.mark.parametrize("module", modules())
def test_modules_stay_readable(module):
    lines = (PACKAGE / f"{module}.py").read_text(encoding="utf-8").count("\n")
    assert lines <= LINES_MODULE, "divide it by topic"


# ---- no place, person or address -----------------------------------------------------------------

TEXT = {".py", ".md", ".toml", ".yml", ".yaml", ".lock", ".ipynb", ".csv", ".json", ".txt", ""}
MACHINE_PATH = re.compile(
    r"(?<![\w.])/(?:home|Users|root|work|tmp|opt|mnt)/[\w.-]+|\b[A-Z]:\\\\?Users"
)
REGISTRY = re.compile(r"\bpypi\.org|files\.pythonhosted|conda\.anaconda|registry\.npmjs")


def committed():
    """Files that git knows or would take; without git, all that is not made by a run."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT, capture_output=True, check=False,
    )
    if listed.returncode == 0:
        return [ROOT / name for name in listed.stdout.decode().split("\0") if name]
    places = [ROOT / name for name in (".ci", "lib", "tests", "workbook", "data_demo")]
    made = {"results", "__pycache__", "notebooks", ".cache"}
    found = [*ROOT.glob("*"), *(path for place in places for path in place.rglob("*"))]
    return [path for path in found if path.is_file() and not made & set(path.parts)]


def texts():
    for path in committed():
        if path.suffix in TEXT and path.is_file():
            yield path, path.read_text(encoding="utf-8", errors="replace")


def test_no_paths_of_a_machine():
    found = {
        f"{path.relative_to(ROOT)}: {hit}"
        for path, text in texts() if path.name != "test_house.py"
        for hit in MACHINE_PATH.findall(text)
    }
    assert found == set()


def test_no_address_of_a_registry():
    found = {
        f"{path.relative_to(ROOT)}: {hit}"
        for path, text in texts() if path.name != "test_house.py"
        for hit in REGISTRY.findall(text)
    }
    assert found == set()


def test_the_path_check_sees_what_it_should():
    path = "/" + "home/anna"    # in two parts, or this file would hold what it looks for
    assert MACHINE_PATH.findall(f'open("{path}/log.csv")') == [path]
    assert MACHINE_PATH.findall("see data/home/x and https://a.b/mnt/x") == []


# ---- notebooks -----------------------------------------------------------------------------------

UNIT_FACTOR = re.compile(
    r"(?<![\w.])(?:0?\.3048|0?\.514\d*|1\.852|1852(?:\.0)?|9\.80665|0?\.4536|0?\.45359\d*|3\.785\d*"
    r"|33\.86\d*|3386\.\d+|273\.15|459\.67|1\.943\d*|3\.28\d*|6076|745\.7|735\.5)(?!\w)"
)
FORBIDDEN_NODES = (
    ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda,
    ast.For, ast.AsyncFor, ast.While,
)


def cells(path, kind="code"):
    content = json.loads(path.read_text(encoding="utf-8"))
    return [(cell, "".join(cell["source"])) for cell in content["cells"]
            if cell["cell_type"] == kind]


def test_there_are_notebooks():
    assert NOTEBOOKS, "workbook/ holds no notebook"


@pytest.fixture(params=NOTEBOOKS, ids=lambda path: path.name)
def notebook(request):
    return request.param


def test_every_code_cell_was_executed_in_order(notebook):
    """A cell stored without its count would be passed over by the comparison."""
    counts = [cell["execution_count"] for cell, source in cells(notebook) if source.strip()]
    assert counts == list(range(1, len(counts) + 1))


def test_cells_are_short_and_hold_no_programs(notebook):
    for _, source in cells(notebook):
        assert len(source.splitlines()) <= LINES_CELL, source
        tree = ast.parse(source)
        found = [node for node in ast.walk(tree) if isinstance(node, FORBIDDEN_NODES)]
        assert not found, f"belongs in the library, with a test:\n{source}"
        assert not UNIT_FACTOR.search(source), f"units are the library's affair:\n{source}"


def test_no_output_is_an_error_and_none_is_ignored(notebook):
    for cell, source in cells(notebook):
        kinds = {output["output_type"] for output in cell["outputs"]}
        assert "error" not in kinds, source
        tags = set(cell["metadata"].get("tags", []))
        assert not {tag for tag in tags if tag.lower().startswith("nbval")}, "strictly compared"
        assert "NBVAL" not in source


def test_no_warning_is_stored(notebook):
    for cell, source in cells(notebook):
        assert not [o for o in cell["outputs"] if o.get("name") == "stderr"], source


def test_notebooks_are_small(notebook):
    assert notebook.stat().st_size <= BYTES_NOTEBOOK


def test_outputs_are_the_same_on_every_machine(notebook):
    text = notebook.read_text(encoding="utf-8")
    assert "np.float64(" not in text
    assert "application/vnd.jupyter.widget" not in text
    for word in (socket.gethostname(), str(ROOT)):
        assert word not in text or len(word) < 5
    if len(getpass.getuser()) > 4:
        assert f"/{getpass.getuser()}/" not in text


def test_metadata_carries_no_versions(notebook):
    content = json.loads(notebook.read_text(encoding="utf-8"))
    assert content["metadata"] == {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "language_info": {"name": "python"},
    }


def test_markdown_leads_and_closes(notebook):
    content = json.loads(notebook.read_text(encoding="utf-8"))
    assert content["cells"][0]["cell_type"] == "markdown"
    assert "".join(content["cells"][0]["source"]).startswith("# ")
    assert content["cells"][-1]["cell_type"] == "markdown"


def test_the_factor_check_sees_what_it_should():
    for text in ("x * 0.3048", "v / .5144", "9.80665", "h*3.2808"):
        assert UNIT_FACTOR.search(text), text
    for text in ("0.30481a", "10.3048", "range(3)", "65.0"):
        assert not UNIT_FACTOR.search(text), text
