"""The stage Connect: the port, recording, finding out what a meter sends."""
