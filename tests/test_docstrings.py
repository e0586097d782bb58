"""Every public name is described: parameters, result, what it refuses, units, and an example."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import re
import textwrap
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "lib" / "stdday"
# Endings of names that carry a unit; the description says it in brackets.
UNIT_ENDINGS = ("_ms", "_m", "_pa", "_k", "_kg", "_w", "_rad", "_s", "_rps", "_n", "_m2", "_m3",
                "_m3s", "_ms2", "_kg_m3", "_per_s", "_kg_j")
# What takes one of these needs a whole campaign, recording or run for an example; tests show those.
RECORDS = re.compile(r"Campaign|Recording|Flight|Points|Analysis|Results|Draws|DataFrame|Grid|Trace"
                     r"|Ledger|State|Path|Bands|Rows|ColumnsFile|Curve|Airplane|Survey|Rolls|Calibration"
                     r"|LevelFit")
SECTION = re.compile(r"^([A-Z][A-Za-z ]+)\n-{3,}\n", re.MULTILINE)


def public_names():
    for path in sorted(PACKAGE.glob("[!_]*.py")):    # what begins with _ is for the house alone
        module = importlib.import_module(f"stdday.{path.stem}")
        for name in getattr(module, "__all__", ()):
            yield pytest.param(getattr(module, name), id=f"{path.stem}.{name}")


NAMES = list(public_names())
FUNCTIONS = [param for param in NAMES if inspect.isfunction(inspect.unwrap(param.values[0]))]
CLASSES = [param for param in NAMES if inspect.isclass(param.values[0])]


def sections(thing):
    """Sections of a numpydoc docstring: title to text."""
    text = inspect.getdoc(thing) or ""
    parts = SECTION.split(text)
    return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


def described(section):
    """Each described name with its text; `a, b : float` describes two."""
    found, current = {}, []
    for line in section.splitlines():
        head = re.match(r"^(\*{0,2}\w+(?:, \*{0,2}\w+)*)(?: ?:.*)?$", line)
        if head:
            current = [name.strip(" *") for name in head.group(1).split(",")]
            found.update(dict.fromkeys(current, line + "\n"))
        else:
            for name in current:
                found[name] += line + "\n"
    return found


def raises_something(function):
    """Whether its own body raises or has a range checked, not what it makes for later."""
    todo = list(ast.parse(textwrap.dedent(inspect.getsource(function))).body[0].body)
    while todo:
        node = todo.pop()
        if isinstance(node, ast.FunctionDef | ast.Lambda):
            continue
        if isinstance(node, ast.Raise):
            return True
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "checked":
            return True
        todo += ast.iter_child_nodes(node)
    return False


def needs_a_record(function):
    """Whether an argument is something only a campaign's files give."""
    parameters = inspect.signature(function).parameters.values()
    return any(RECORDS.search(str(parameter.annotation)) for parameter in parameters)


def test_there_are_public_names():
    assert len(FUNCTIONS) > 20


@pytest.mark.parametrize("function", FUNCTIONS)
def test_parameters_are_described(function):
    wanted = {name for name in inspect.signature(function).parameters if name != "self"}
    assert wanted - set(described(sections(function).get("Parameters", ""))) == set()


@pytest.mark.parametrize("function", FUNCTIONS)
def test_units_are_said(function):
    found = described(sections(function).get("Parameters", ""))
    with_unit = {name: text for name, text in found.items() if name.endswith(UNIT_ENDINGS)}
    assert {name for name, text in with_unit.items() if "[" not in text} == set()
    if function.__name__.endswith(UNIT_ENDINGS):
        assert "[" in sections(function).get("Returns", "")


@pytest.mark.parametrize("function", FUNCTIONS)
def test_result_and_refusals_are_said(function):
    found = sections(function)
    if inspect.signature(function).return_annotation not in (None, "None"):
        assert {"Returns", "Yields"} & set(found)
    if raises_something(function):
        assert "Raises" in found or "never raises" in found[""]


@pytest.mark.parametrize("function", [p for p in FUNCTIONS if not needs_a_record(p.values[0])])
def test_an_example_runs(function):
    assert ">>>" in sections(function).get("Examples", "")


@pytest.mark.parametrize("cls", CLASSES)
def test_classes_say_what_they_hold(cls):
    assert inspect.getdoc(cls)
    if dataclasses.is_dataclass(cls):
        found = described(sections(cls).get("Parameters", "") + sections(cls).get("Attributes", ""))
        beside = re.findall(r"^ +(\w+): .*  # \S", inspect.getsource(cls), re.MULTILINE)
        given = {field.name for field in dataclasses.fields(cls)
                 if field.default_factory is dataclasses.MISSING and not field.name.startswith("_")}
        assert given - set(found) - set(beside) == set()
