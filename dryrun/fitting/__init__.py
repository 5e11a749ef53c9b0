"""Which bit of a rack was a program made for: path → measures → likelihoods → ranking."""
