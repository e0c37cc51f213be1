"""Which frequency every transmitter gets, in whole hertz, with the margin it keeps and what sets it."""
