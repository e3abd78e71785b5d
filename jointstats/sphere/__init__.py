"""Mathematics of axes on the unit sphere; knows nothing of rock."""
