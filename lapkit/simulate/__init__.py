"""Invented courses, riders and receivers with known truth, for training and testing."""
