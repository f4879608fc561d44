"""What was ridden held against what the coach wanted: corners, markers, seams, runs."""
