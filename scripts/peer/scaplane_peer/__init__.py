"""The computation of `scaplane review` for one clip, written in NumPy and SciPy for comparison.

The way of the data: read -> person -> clock -> track -> condition -> kinematics -> reps -> measures -> judge.
Every stage is one file. What is missing is NaN in arrays and a reason (a short text) in place of a value.
"""
