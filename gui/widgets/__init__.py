"""Parts of the window that several stages use: look, lists, bars, badges, pages."""
