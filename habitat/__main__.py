"""``python -m habitat`` is the command line."""

from habitat.commands.start import main

if __name__ == "__main__":
    main()
