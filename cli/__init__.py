"""The `pencilamp` command: arguments, files, the archive, the pages. Thin over `vision` and `circuit`."""
