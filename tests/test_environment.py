"""What has to be installed is said in four files; they agree, and name no address."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
import yaml
from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import stdday

ROOT = Path(__file__).resolve().parents[1]
LOCKS = ("requirements.lock", "requirements-test.lock")
# Where the workbook is foreseen to run; the lock must give exactly one version of a package there.
PLACES = [
    {"python_full_version": f"3.{minor}.9", "python_version": f"3.{minor}", "sys_platform": system,
     "os_name": "nt" if system == "win32" else "posix", "platform_system": name,
     "implementation_name": "cpython", "platform_python_implementation": "CPython"}
    for minor in (11, 12, 13)
    for system, name in (("linux", "Linux"), ("darwin", "Darwin"), ("win32", "Windows"))
]


def project():
    with open(ROOT / "pyproject.toml", "rb") as file:
        return tomllib.load(file)["project"]


def wanted(*extras):
    texts = list(project()["dependencies"])
    for extra in extras:
        texts += project()["optional-dependencies"][extra]
    return [Requirement(text) for text in texts]


def pins(name):
    """Every pinned line of a lock: canonical name, version, marker and number of hashes."""
    lines = (ROOT / name).read_text(encoding="utf-8").replace("\\\n", " ").splitlines()
    found = []
    for line in lines:
        if line and not line.lstrip().startswith("#"):
            text, *hashes = line.split("--hash=")
            requirement = Requirement(text.strip())
            (pin,) = requirement.specifier
            assert pin.operator == "=="
            found.append((canonicalize_name(requirement.name), pin.version, requirement.marker,
                          len(hashes)))
    return found


def versions_at(name, place):
    """Versions that a lock installs in one place; a package with two would fail here."""
    chosen = {}
    for package, version, marker, _ in pins(name):
        if marker is None or marker.evaluate(place):
            assert package not in chosen, f"{name}: two versions of {package} in {place}"
            chosen[package] = version
    return chosen


def test_every_requirement_is_a_name_and_a_floor():
    """`boot.lacking` reads them without a library, so they keep to one form."""
    texts = project()["dependencies"] + project()["optional-dependencies"]["test"]
    odd = [text for text in texts if not re.fullmatch(r"[a-z0-9-]+>=[0-9]+(\.[0-9]+)+", text)]
    assert odd == []


@pytest.mark.parametrize("name", LOCKS)
@pytest.mark.parametrize("place", PLACES, ids=lambda p: p["sys_platform"] + p["python_version"])
def test_a_lock_satisfies_pyproject_everywhere(name, place):
    chosen = versions_at(name, place)
    for requirement in wanted(*(("test",) if "test" in name else ())):
        version = chosen.get(canonicalize_name(requirement.name))
        assert version is not None, f"{name} lacks {requirement}"
        assert requirement.specifier.contains(version, prereleases=True), f"{name}: {requirement}"


def test_the_test_lock_has_the_same_pins_and_more():
    base = {(name, version, str(marker)) for name, version, marker, _ in pins(LOCKS[0])}
    full = {(name, version, str(marker)) for name, version, marker, _ in pins(LOCKS[1])}
    assert base - full == set()
    assert {name for name, _, _ in full - base} & {name for name, _, _ in base} == set()
    assert {"pytest", "nbval"} <= {name for name, _, _ in full - base}


@pytest.mark.parametrize("name", LOCKS)
def test_every_pin_has_hashes_and_there_is_no_address(name):
    assert [package for package, _, _, hashes in pins(name) if hashes == 0] == []
    text = (ROOT / name).read_text(encoding="utf-8")
    assert re.findall(r"\S*(?:://|--(?:extra-)?index-url|--find-links)\S*", text) == []


def conda_requirements():
    """Requirements of environment.yml, those through pip included."""
    content = yaml.safe_load((ROOT / "environment.yml").read_text(encoding="utf-8"))
    texts = []
    for entry in content["dependencies"]:
        texts += entry["pip"] if isinstance(entry, dict) else [entry]
    return {canonicalize_name(r.name): str(r.specifier) for r in map(Requirement, texts)}


def test_environment_yml_agrees_with_pyproject():
    expected = {canonicalize_name(r.name): str(r.specifier) for r in wanted()}
    expected |= {"python": project()["requires-python"], "pip": ""}
    assert conda_requirements() == expected


def test_places_are_understood():
    """The check above is only as good as its markers: one that must differ does."""
    marker = Marker("sys_platform == 'win32' and python_full_version < '3.12'")
    assert sum(marker.evaluate(place) for place in PLACES) == 1


def test_the_version_is_said_once_and_the_same():
    assert stdday.__version__ == project()["version"]


def test_ci_runs_the_same_command_as_a_person():
    text = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert re.findall(r"^(?:exec )?python3 .*$", text, re.MULTILINE) == ["exec python3 tests"]


def test_line_endings_survive_a_clone():
    text = (ROOT / ".gitattributes").read_text(encoding="utf-8")
    assert "* text=auto eol=lf" in text
    assert "data_demo/**/logs/** -text" in text
