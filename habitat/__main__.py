"""``python -m habitat`` is the command line."""

from habitat.commands.app import main

if __name__ == "__main__":
    main()
