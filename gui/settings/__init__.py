"""What is remembered from one start to the next, the dialog that edits it, and the dialogs of the kept meters."""
