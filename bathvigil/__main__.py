"""`python -m bathvigil`: the command line."""

from monitor.commands.main import main

if __name__ == "__main__":
    main()
