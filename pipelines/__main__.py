"""`python -m pipelines` is the same as `stickfleet`."""

from pipelines.cli import main

raise SystemExit(main())
