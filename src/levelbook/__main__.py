"""``python -m levelbook`` is the ``levelbook`` command."""

from levelbook.cli.main import run

if __name__ == "__main__":
    run()
