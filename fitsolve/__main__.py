"""`python -m fitsolve`: the same as the command `fitsolve`."""

from fitsolve.cli.main import main

if __name__ == "__main__":
    main()
