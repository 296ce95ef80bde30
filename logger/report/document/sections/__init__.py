"""The sections for the next professional: one file each, named like the section."""
