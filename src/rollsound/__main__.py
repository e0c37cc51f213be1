"""`python -m rollsound` is the same as `rollsound`."""

from rollsound.cli import main

if __name__ == "__main__":
    main()
