"""Letters and forms, filled from the record: as PDF, and as plain text for e-mail. Nothing is ever sent."""
