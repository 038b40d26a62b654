"""The seconds that matter: words into a script, a script played on the moving rig, its answer read and mended."""
