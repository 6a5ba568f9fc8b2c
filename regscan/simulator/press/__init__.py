"""The press as a machine: how web, drums, plates and heat move the print. No images."""
