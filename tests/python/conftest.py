"""Shared fixtures. The package under test is the installed one, never a folder that happens to bear its name."""

import signal
from pathlib import Path

import pytest

import libblade as lb

ROOT = Path(__file__).parents[2]


def pytest_sessionstart(session: pytest.Session) -> None:
    del session
    package = Path(lb.__file__).resolve()
    assert "site-packages" in package.parts or "dist-packages" in package.parts, (
        f"libblade was imported from {package}: run `make build` and use .venv/bin/python"
    )
    # A shell in the background hands Ctrl-C down as ignored: the tests press it.
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture
def closed_figures():
    """Nothing that a test has drawn stays open."""
    yield
    pytest.importorskip("matplotlib.pyplot").close("all")


@pytest.fixture(scope="session")
def root() -> Path:
    return ROOT
