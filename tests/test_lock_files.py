"""The lock files: every package that a run or the tests need, in one version, with digests."""

import re
from functools import cache
from itertools import product
from pathlib import Path

import pytest
import tomlkit
from packaging.markers import default_environment
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parent.parent
RUN, WORK = ROOT / "requirements.lock", ROOT / "tests" / "requirements.lock"
PROJECT = tomlkit.parse((ROOT / "pyproject.toml").read_text(encoding="utf-8")).unwrap()
EXTRAS = PROJECT["project"]["optional-dependencies"]
MARKERS = ("sys_platform", "platform_system", "platform_machine", "os_name")
SYSTEMS = {
    "linux": ("linux", "Linux", "x86_64", "posix"),
    "macos": ("darwin", "Darwin", "arm64", "posix"),
    "windows": ("win32", "Windows", "AMD64", "nt"),
}
PYTHONS = ("3.10", "3.11", "3.12", "3.13")


def environment_of(system, python):
    """Give the values of environment markers on a system with a version of Python."""
    cpython = {"implementation_name": "cpython", "platform_python_implementation": "CPython"}
    versions = {"python_version": python, "python_full_version": f"{python}.0"}
    own = dict(zip(MARKERS, SYSTEMS[system], strict=True))
    return {**default_environment(), **cpython, **versions, **own}


ENVIRONMENTS = [environment_of(system, python) for system, python in product(SYSTEMS, PYTHONS)]


@cache
def entries(path):
    """Give each locked requirement with its digests."""
    text = re.sub(r"^#.*\n", "", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
    found = []
    for entry in text.replace("\\\n", " ").splitlines():
        requirement, *digests = entry.split(" --hash=")
        found.append((Requirement(requirement), [digest.strip() for digest in digests]))
    return found


def name_of(requirement):
    return re.sub(r"[-_.]+", "-", requirement.name).lower()


def locked_in(path, environment):
    """Give the one version of each package that is installed in an environment."""
    versions = {}
    for requirement, _ in entries(path):
        if requirement.marker is None or requirement.marker.evaluate(environment):
            (pin,) = requirement.specifier
            assert pin.operator == "=="
            assert name_of(requirement) not in versions
            versions[name_of(requirement)] = pin.version
    return versions


def wanted(environment, *, extras=()):
    """Give what pyproject.toml asks for in an environment."""
    texts = [*PROJECT["project"]["dependencies"], *PROJECT["build-system"]["requires"]]
    for extra in extras:
        texts += [text for text in EXTRAS[extra] if not text.startswith("crossemetry[")]
    requirements = map(Requirement, texts)
    return [x for x in requirements if x.marker is None or x.marker.evaluate(environment)]


@pytest.mark.parametrize("path", [RUN, WORK], ids=["run", "work"])
def test_every_package_has_digests_and_no_address(path):
    text = path.read_text(encoding="utf-8")
    assert "://" not in text
    assert not re.search(r"^\s*-(-index|-extra|-find|i |f )", text, flags=re.MULTILINE)
    for requirement, digests in entries(path):
        assert digests, f"{requirement} has no digest"
        for digest in digests:
            assert re.fullmatch(r"sha256:[0-9a-f]{64}", digest)


def test_what_the_project_asks_for_is_locked():
    wrong = []
    for environment in ENVIRONMENTS:
        for path, extras in ((RUN, ()), (WORK, EXTRAS)):
            locked = locked_in(path, environment)
            for requirement in wanted(environment, extras=extras):
                version = locked.get(name_of(requirement))
                if version is None or not requirement.specifier.contains(version, prereleases=True):
                    wrong.append(f"{path.name}: {requirement} is locked as {version}")
    assert wrong == [], "run make lock"


def test_the_tests_run_with_the_versions_of_a_run():
    for environment in ENVIRONMENTS:
        assert locked_in(RUN, environment).items() <= locked_in(WORK, environment).items()
