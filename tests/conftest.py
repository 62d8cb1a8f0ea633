"""What every test may use: one thread for linear algebra, the sample books, a browser."""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

import chromium
from levelbook.cli.main import main

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytest_plugins = ("databases",)

DATA = Path(__file__).parent / "data"

# The same examples on every machine and no clock: a slow machine must not fail a law.
settings.register_profile("suite", deadline=None, derandomize=True, database=None)
settings.load_profile("suite")


@pytest.fixture(scope="session")
def house_a() -> bytes:
    """Return the small sample book as bytes."""
    return (DATA / "house-a.json").read_bytes()


@pytest.fixture(scope="session")
def chromium_path() -> str:
    """Return the path of a Chromium; the whole run finds or fetches it beforehand."""
    path = chromium.find()
    if path is None:
        pytest.fail(chromium.MISSING)
    return path


@pytest.fixture(scope="session")
def browser(chromium_path: str) -> "Iterator[Browser]":
    """Return one browser for the session."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=chromium_path, args=["--no-sandbox", "--disable-gpu"]
        )
        yield started
        started.close()


@pytest.fixture
def page(browser: "Browser") -> "Iterator[Page]":
    """Return a fresh page without network."""
    context = browser.new_context(offline=True)
    yield context.new_page()
    context.close()


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Return a function that runs a command here: its exit code, output and errors."""

    def command(*arguments: object) -> tuple[int, str, str]:
        code = main([str(argument) for argument in arguments])
        told = capsys.readouterr()
        return code, told.out, told.err

    return command
