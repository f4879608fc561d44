"""The ridden path: smoothing, its noise, its position offset, its ensemble."""
