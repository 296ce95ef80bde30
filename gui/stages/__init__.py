"""The stages of the work: one package a stage, its pages in it."""
