"""Random bytes for minutes: each target takes bytes and must give an object or one of our errors."""
