"""Years of logs: read as they come, kept by engine and month, and asked what changed, when, and what comes next."""
