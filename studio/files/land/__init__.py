"""Land as it comes: survey files, map outlines and lists of corners, looked at before they are taken."""
