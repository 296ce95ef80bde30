"""The help: a page for each stage, a first visit step by step, a glossary, all actions with their keys."""
