"""The pure numbers of remedies: what each would bring, and the set of least effort that meets the target."""
