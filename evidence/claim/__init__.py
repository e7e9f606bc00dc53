"""From finding to payment: the course of a matter, what is due, mistakes that sink a claim, and the loss."""
