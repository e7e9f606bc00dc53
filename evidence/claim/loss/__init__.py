"""The loss as a statement: exact sums, three readings of them, and what makes each line recoverable."""
