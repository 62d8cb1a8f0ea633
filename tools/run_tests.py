"""Run every test, those in a browser included, and measure the pure core's coverage.

Extra arguments go to pytest. The last line printed is pytest's own summary, unless branch
coverage of the pure core falls below the floor: then one sentence says so and the run fails.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import chromium

ROOT = Path(__file__).resolve().parent.parent
REPORT = ROOT / "out" / "coverage.json"
CORE = ("book", "levels", "floor", "findings")
FLOOR = 95.0
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


def branch_shares(report: dict[str, dict[str, dict[str, dict[str, int]]]]) -> dict[str, float]:
    """Return the share of branches taken (percent) for each package of the pure core."""
    shares = {}
    for package in CORE:
        files = [
            entry["summary"]
            for path, entry in report["files"].items()
            if f"levelbook/{package}/" in path.replace("\\", "/")
        ]
        total = sum(summary["num_branches"] for summary in files)
        taken = sum(summary["covered_branches"] for summary in files)
        shares[package] = 100.0 * taken / total if total else 100.0
    return shares


def main(arguments: list[str]) -> int:
    """Find a browser, run pytest, hold the coverage to its floor; return the exit code."""
    browser = chromium.find() or chromium.fetch()
    if browser is None:
        sys.stderr.write(chromium.MISSING + "\n")
        return 2
    REPORT.parent.mkdir(exist_ok=True)
    REPORT.unlink(missing_ok=True)
    command = [sys.executable, "-m", "pytest", "-n", "auto", "--maxprocesses", "4"]
    if not arguments:
        command += ["--cov", f"--cov-report=json:{REPORT}"]
    environment = os.environ | ONE_THREAD | {chromium.VARIABLE: browser}
    code = subprocess.run([*command, *arguments], cwd=ROOT, env=environment, check=False).returncode
    if code or not REPORT.exists():
        return code
    low = {k: v for k, v in branch_shares(json.loads(REPORT.read_text())).items() if v < FLOOR}
    if low:
        told = ", ".join(f"{name} {share:.1f} %" for name, share in low.items())
        sys.stderr.write(f"Branch coverage is below {FLOOR:.0f} %: {told}.\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
