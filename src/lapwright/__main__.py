"""Run the command line with ``python -m lapwright``."""

from lapwright.cli.main import main

if __name__ == "__main__":
    main()
