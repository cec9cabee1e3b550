"""`python3 -m webapp`: make what is missing, then do what `flutebench` does."""

import sys

if sys.version_info < (3, 11):  # noqa: UP036  an older Python must get this line, not a syntax error
    sys.exit("Flutebench needs Python 3.11 or newer; this is Python " + sys.version.split()[0] + ".")

from webapp.bootstrap import prepared

if __name__ == "__main__":
    prepared("webapp")
    from webapp.cli import main

    main()
