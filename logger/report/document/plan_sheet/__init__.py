"""The plan to hang on the wall, and the electrician's page beside it."""
