"""``python -m keyhook_desk``: the same as the one script."""

from keyhook_desk.command import main

if __name__ == "__main__":
    main()
