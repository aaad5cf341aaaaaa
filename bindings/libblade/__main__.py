"""``python -m libblade`` is the command ``libblade``."""

from libblade._cli import main

raise SystemExit(main())
