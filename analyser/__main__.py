"""``python -m analyser`` is the ``crabline`` command."""

from analyser.cli import main

if __name__ == "__main__":
    main()
