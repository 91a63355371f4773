"""The command line: one module or folder a command."""
