"""``python -m habitat`` is the command line."""

from habitat.cli import main

if __name__ == "__main__":
    main()
