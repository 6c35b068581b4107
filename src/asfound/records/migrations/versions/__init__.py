"""One file per change of the schema; never edit one that has been released."""
