"""Mistakes that sink a claim: asked about when a step is recorded, listed where they were made."""
