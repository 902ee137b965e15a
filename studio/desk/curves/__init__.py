"""Curves of the whole field beside the plan: over its pitch, its spacing, its azimuth; a point can be seen and taken."""
